// Passkeys: asks the server for the question, the browser for the answer, and sends that in the form it stands in.
// Without this file the form says that passkeys need scripts, and every other way in stays.

const fromText = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
const toText = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\+/g, "-")
    .replace(/\//g, "_")
    .replace(/=+$/, "");

/** The server's question, its base64url texts as the bytes the browser wants. */
function asAsked(question) {
  const asked = { ...question, challenge: fromText(question.challenge) };
  if (question.user) asked.user = { ...question.user, id: fromText(question.user.id) };
  for (const list of ["excludeCredentials", "allowCredentials"])
    if (question[list]) asked[list] = question[list].map((one) => ({ ...one, id: fromText(one.id) }));
  return asked;
}

/** The browser's answer as text, named as the WebAuthn standard names it in JSON. */
function asText({ id, rawId, type, response }) {
  const parts = {};
  for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"])
    if (response[name]) parts[name] = toText(response[name]);
  return JSON.stringify({ id, rawId: toText(rawId), type, response: parts, clientExtensionResults: {} });
}

/** The question; throws {why} with the server's words where it will not ask. */
async function ask(form) {
  const answer = await fetch(form.dataset.begin, {
    method: "POST",
    headers: { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value, Accept: "application/json" },
  });
  if (answer.redirected || !answer.headers.get("Content-Type")?.includes("json")) throw { why: null };
  const read = await answer.json();
  if (!answer.ok) throw { why: read.why };
  return read;
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  const button = form.querySelector("button");
  const line = form.querySelector("[data-say]");
  const say = (words) => (line.textContent = words);
  if (!globalThis.PublicKeyCredential || !navigator.credentials) {
    say(line.dataset.none);
    continue;
  }
  say("");
  button.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!form.reportValidity()) return;
    button.disabled = true;
    say(line.dataset.wait);
    try {
      const publicKey = asAsked(await ask(form));
      form.elements.answer.value = asText(await navigator.credentials[form.dataset.passkey]({ publicKey }));
      form.submit();
    } catch (why) {
      button.disabled = false;
      if (why instanceof DOMException)
        say({ NotAllowedError: line.dataset.stopped, InvalidStateError: line.dataset.there }[why.name] ?? line.dataset.failed);
      else say(why.why ?? line.dataset.lost);
    }
  });
}
