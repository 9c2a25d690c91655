/* How times, tags and acts are said. */

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
  const time = moment.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  if (moment.toDateString() === new Date().toDateString()) return time;
  return `${moment.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${time}`;
}

export function day(iso) {
  return new Date(`${iso}T12:00`).toLocaleDateString("en-GB", { day: "numeric", month: "short" });
}

export function age(milliseconds) {
  const minutes = Math.floor(milliseconds / 60_000);
  if (minutes < 1) return "now";
  if (minutes < 60) return `${minutes} min`;
  if (milliseconds < DAY_MS) return `${Math.floor(minutes / 60)} h`;
  const days = Math.floor(milliseconds / DAY_MS);
  return days === 1 ? "1 day" : `${days} days`;
}

/* Due in the tablet's own calendar: [word, tone], or null where there is no day. */
export function due(isoDay, now = new Date()) {
  if (!isoDay) return null;
  const today = zoned(now).slice(0, 10);
  if (isoDay < today) return [`Overdue since ${day(isoDay)}`, "tag-bad"];
  if (isoDay === today) return ["Due today", "tag-warn"];
  return [`Due ${day(isoDay)}`, "tag-plain"];
}

/* What was scanned or typed as a tag: a printed code may hold the whole address. */
export function cleanTag(text) {
  const last = text.trim().split("/Q/").pop();
  return last.toUpperCase().replace(/[^A-Z0-9]/g, "");
}

export function grouped(tag) {
  return (tag ?? "").replace(/(.{4})(?=.)/g, "$1-");
}

export function counted(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}

export const PLACES = {
  housing: "in a door", shelf: "on the shelf", bench: "on the bench", case: "in my case", gone: "gone for good",
};

export const CLASSES = { ordinary: "Ordinary", restricted: "Restricted", critical: "Critical" };
