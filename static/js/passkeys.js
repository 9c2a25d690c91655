/* Passkeys: a form with data-passkey asks the browser for one ("get") or has it make one ("create"), puts what
   it answers into its field "credential" and sends itself. Such a form is shown only where that can work. */

const decode = (text) =>
  Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (sign) => sign.charCodeAt(0)).buffer;

const encode = (bytes) =>
  btoa(String.fromCharCode(...new Uint8Array(bytes)))
    .replaceAll("+", "-")
    .replaceAll("/", "_")
    .replaceAll("=", "");

const named = (credentials = []) => credentials.map((one) => ({ ...one, id: decode(one.id) }));

function asked({ publicKey }) {
  const options = { ...publicKey, challenge: decode(publicKey.challenge) };
  if (options.user) options.user = { ...options.user, id: decode(options.user.id) };
  if (options.allowCredentials) options.allowCredentials = named(options.allowCredentials);
  if (options.excludeCredentials) options.excludeCredentials = named(options.excludeCredentials);
  return options;
}

const PARTS = ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"];

function told(credential) {
  const { response } = credential;
  const parts = PARTS.filter((part) => response[part]).map((part) => [part, encode(response[part])]);
  return {
    id: credential.id,
    rawId: encode(credential.rawId),
    type: credential.type,
    response: { ...Object.fromEntries(parts), transports: response.getTransports?.() ?? [] },
    clientExtensionResults: credential.getClientExtensionResults(),
  };
}

async function optionsOf(form) {
  const { passkeyOptions, passkeyOptionsFrom } = form.dataset;
  if (passkeyOptions) return JSON.parse(passkeyOptions);
  const answer = await fetch(passkeyOptionsFrom, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(answer.statusText);
  return answer.json();
}

function say(form, text) {
  const place = form.querySelector("[data-passkey-says]");
  place.firstElementChild.textContent = text;
  place.hidden = false;
}

function explained(error) {
  const words = document.getElementById("passkey-words").dataset;
  if (error.name === "NotAllowedError") return words.nothing;
  if (error.name === "InvalidStateError") return words.known;
  if (error.name === "SecurityError") return words.address;
  return words.unread;
}

async function send(event) {
  event.preventDefault();
  const form = event.currentTarget;
  try {
    const publicKey = asked(await optionsOf(form));
    const credential = await navigator.credentials[form.dataset.passkey]({ publicKey });
    form.elements.credential.value = JSON.stringify(told(credential));
    form.submit();
  } catch (error) {
    say(form, explained(error));
  }
}

/* A browser knows passkeys only by a host's name over TLS, or at localhost. */
const isAddress = /^[\d.]+$|:/.test(window.location.hostname);

for (const form of document.querySelectorAll("form[data-passkey]")) {
  const works = window.PublicKeyCredential && window.isSecureContext && !isAddress;
  form.hidden = !works;
  if (works) form.addEventListener("submit", send);
  document.querySelector("[data-without-passkeys]")?.toggleAttribute("hidden", works);
}
