/* How the app looks, what the tablet is called, and the sign-out. */

import { ask, button, choices, copy, tell } from "../dom.js";
import { isUnsent } from "../outbox.js";
import { gettext, interpolate, ngettext } from "../say.js";
import { nameTablet, signOutHere } from "../session.js";
import { clock } from "../words.js";

const LOOK = "keyctl-field-look";
const THEMES = [["auto", gettext("As the tablet")], ["light", gettext("Light")], ["dark", gettext("Dark")], ["contrast", gettext("Bright sun")]];
const HANDS = [["right", gettext("Right")], ["left", gettext("Left")]];
const SIZES = [["usual", gettext("Usual")], ["large", gettext("Larger")]];

export function settingsPage(app) {
  const look = document.documentElement.dataset;
  const body = copy("settings", {
    themes: choices("theme", THEMES, look.theme ?? "auto"),
    hands: choices("hand", HANDS, look.hand ?? "right"),
    sizes: choices("size", SIZES, look.size ?? "usual"),
    tablet: app.device?.name ?? gettext("It has none yet"),
    person: app.session?.name ?? gettext("Nobody"),
    asOf: app.world ? interpolate(gettext("As of %(when)s"), { when: clock(app.world.madeAt) }) : gettext("None on this tablet"),
    storage: storageWords(app.isPersistent),
    version: document.body.dataset.version,
    acts: app.session ? [button(gettext("Sign out"), "", () => signOut(app))] : [],
  });
  body.addEventListener("change", ({ target }) => setLook(target.name, target.value));
  return { title: gettext("Settings"), body: [body], acts: [], isForm: nameForm(app, body) };
}

function storageWords(isPersistent) {
  if (isPersistent) return gettext("Kept until you empty it yourself");
  return gettext("The browser may empty it when room runs out or the app is not used for long. Put the app on the home screen, and send often.");
}

function setLook(name, value) {
  if (!["theme", "hand", "size"].includes(name)) return;
  const { dataset } = document.documentElement;
  if (["auto", "right", "usual"].includes(value)) delete dataset[name];
  else dataset[name] = value;
  try {
    const { theme, hand, size } = dataset;
    localStorage.setItem(LOOK, JSON.stringify({ theme, hand, size }));
  } catch {
    // Storage may be shut off; the choice then lasts for this page only.
  }
}

/* Whether the form stands there: only with a network, and until the tablet has a name. */
function nameForm(app, body) {
  const form = body.querySelector("[data-name-form]");
  if (app.device || !app.state?.signed_in || !app.world) {
    form.remove();
    return false;
  }
  for (const site of app.world.sites.values()) form.elements.site.append(new Option(site.name, site.id));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await nameTablet(form.elements.site.value, form.elements.name.value, app.state.csrf);
    } catch (fault) {
      tell(form, [`${gettext("The tablet could not be named.")} ${fault.message}`]);
      return;
    }
    await app.round({ wantsPack: true });
    app.go("#/");
  });
  return true;
}

function whatIsWiped(unsent) {
  if (!unsent) return gettext("Orders, doors and cores are wiped from this tablet. To sign in again it needs the network.");
  const count = interpolate(ngettext("%(count)s act is not sent yet.", "%(count)s acts are not sent yet.", unsent), { count: unsent });
  return `${count} ${gettext("What is not sent stays on this tablet until somebody signs in here again; until then nobody else sees it. Orders, doors and cores are wiped.")}`;
}

async function signOut(app) {
  const unsent = app.records.filter(isUnsent).length;
  const question = unsent ? gettext("Sign out with acts that are not sent?") : gettext("Sign out?");
  if (!(await ask(question, whatIsWiped(unsent), gettext("Sign out")))) return;
  await signOutHere();
  app.state = null;
  app.reach = "signed-out";
  await app.changed();
  await app.round();
}
