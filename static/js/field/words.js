/* How times, tags and acts are said. */

import { gettext, interpolate, LANGUAGE, ngettext } from "./say.js";

const DAY_MS = 24 * 3600 * 1000;

/* The tablet's clock with its offset, as an act claims it. */
export function zoned(moment) {
  const minutes = -moment.getTimezoneOffset();
  const two = (value) => String(Math.floor(Math.abs(value))).padStart(2, "0");
  const local = new Date(moment.getTime() + minutes * 60_000).toISOString().slice(0, -1);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

export function clock(iso) {
  const moment = new Date(iso);
  const time = moment.toLocaleTimeString(LANGUAGE, { hour: "2-digit", minute: "2-digit" });
  if (moment.toDateString() === new Date().toDateString()) return time;
  return `${moment.toLocaleDateString(LANGUAGE, { day: "numeric", month: "short" })}, ${time}`;
}

export function day(iso) {
  return new Date(`${iso}T12:00`).toLocaleDateString(LANGUAGE, { day: "numeric", month: "short" });
}

export function age(milliseconds) {
  const minutes = Math.floor(milliseconds / 60_000);
  if (minutes < 1) return gettext("now");
  if (minutes < 60) return interpolate(gettext("%(minutes)s min"), { minutes });
  if (milliseconds < DAY_MS) return interpolate(gettext("%(hours)s h"), { hours: Math.floor(minutes / 60) });
  const days = Math.floor(milliseconds / DAY_MS);
  return interpolate(ngettext("%(days)s day", "%(days)s days", days), { days });
}

/* Due in the tablet's own calendar: [word, tone], or null where there is no day. */
export function due(isoDay, now = new Date()) {
  if (!isoDay) return null;
  const today = zoned(now).slice(0, 10);
  if (isoDay < today) return [interpolate(gettext("Overdue since %(day)s"), { day: day(isoDay) }), "tag-bad"];
  if (isoDay === today) return [gettext("Due today"), "tag-warn"];
  return [interpolate(gettext("Due %(day)s"), { day: day(isoDay) }), "tag-plain"];
}

/* What was scanned or typed as a tag: a printed code may hold the whole address. */
export function cleanTag(text) {
  const last = text.trim().split("/Q/").pop();
  return last.toUpperCase().replace(/[^A-Z0-9]/g, "");
}

export function grouped(tag) {
  return (tag ?? "").replace(/(.{4})(?=.)/g, "$1-");
}

/* What is worked at, and for which order. */
export function ofOrder(what, line) {
  if (!line) return interpolate(gettext("%(what)s, without an order"), { what });
  return interpolate(gettext("%(what)s, order %(order)s"), { what, order: line.order.number });
}

export const PLACES = {
  housing: gettext("in a door"), shelf: gettext("on the shelf"), bench: gettext("on the bench"), case: gettext("in my case"), gone: gettext("gone for good"),
};

export const CLASSES = { ordinary: gettext("Ordinary"), restricted: gettext("Restricted"), critical: gettext("Critical") };
