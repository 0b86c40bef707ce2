// The recording form as one types: looked over and kept after every pause, and in this browser at once.
// What is typed is never replaced by an answer. The page works without this script.
import { whenQuiet } from "./live.js";

const PREFIX = "plaitlog-record-";
const form = document.getElementById("record");
const standing = document.getElementById("standing");
let latest = 0;
let sent = new Map();
let finished = false;

const field = (name) => form.elements.namedItem(name);
const token = () => form.dataset.token;
const texts = () => [...new FormData(form)].filter(([name]) => !["do", "take"].includes(name));
const isTyped = (element) => element.matches("input:not([type=hidden]), select, textarea");

/** Keep what is typed in this browser, before anything is sent; `kept`: the server has it too. */
function keepHere({ kept = false } = {}) {
  if (!kept) field("turn").value = String(Number(field("turn").value) + 1);
  try {
    localStorage.setItem(PREFIX + token(), JSON.stringify({ kept, texts: texts() }));
  } catch {
    // No room or not allowed: the server still keeps it.
  }
}

function forgetHere(name) {
  try { localStorage.removeItem(PREFIX + name); } catch { /* nothing is kept there then */ }
}

function keptHere() {
  const found = new Map();
  try {
    for (let k = 0; k < localStorage.length; k++) {
      const key = localStorage.key(k);
      if (key.startsWith(PREFIX)) found.set(key.slice(PREFIX.length), JSON.parse(localStorage.getItem(key)));
    }
  } catch { /* nothing that can be read */ }
  return found;
}

/** Send the form; the answer is put in place unless something newer was sent meanwhile. */
async function send(pairs = texts()) {
  if (finished) return;
  const mine = ++latest;
  const answer = await looked(pairs);
  if (mine !== latest) return;
  if (answer === null) standing.textContent = "Not reachable: kept in this browser.";
  else take(answer, new Map(pairs));
}

/** The server's answer to what is typed; null where it gives none. */
async function looked(pairs) {
  try {
    const answer = await fetch(`/record/${token()}/look`, { method: "POST", body: new URLSearchParams(pairs), headers: { Accept: "text/html" } });
    if (!answer.ok) return null;
    const holder = document.createElement("template");
    holder.innerHTML = await answer.text();
    return holder.content.querySelector("[data-answer]");
  } catch {
    return null;
  }
}

function take(answer, pairs) {
  sent = pairs;
  const { token: name, seen, state } = answer.dataset;
  if (state === "recorded") {
    finished = true;
    standing.textContent = "This whip is in the workshop already.";
    forgetHere(token());
    return;
  }
  if (name !== token()) {
    forgetHere(token());
    form.dataset.token = name;
    form.action = `/record/${name}`;
  }
  if (location.pathname !== `/record/${name}`) history.replaceState(null, "", `/record/${name}`);
  field("seen").value = seen;
  standing.textContent = state === "beside" ? "Kept beside a newer version from another window." : `Kept at ${new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}.`;
  const sheet = form.querySelector("[data-answer]");
  mergeList(sheet, answer, "data-group", (now, fresh) => {
    mergeList(now.querySelector("[data-blocks]"), fresh.querySelector("[data-blocks]"), "data-block", mergeBlock);
    mergeTold(now, fresh, ":scope > [data-told]");
    return now;
  });
  const look = sheet.querySelector("[data-look]");
  if (!look.contains(document.activeElement)) look.innerHTML = keepingOpen(sheet, answer);
  sheet.querySelector("[data-unasked]").innerHTML = answer.querySelector("[data-unasked]").innerHTML;
  const asSent = new Map(texts());
  keepHere({ kept: [...sent].every(([key, text]) => !isAsked(key) || asSent.get(key) === text) });
}

const isAsked = (name) => { const one = field(name); return one instanceof Element && isTyped(one); };

/** The fresh drawing and words, with what was folded out still so. */
function keepingOpen(sheet, answer) {
  const open = [...sheet.querySelectorAll("[data-look] details")].map((one) => [one.querySelector("summary").textContent, one.open]);
  const known = new Map(open);
  for (const one of answer.querySelectorAll("[data-look] details")) {
    const was = known.get(one.querySelector("summary").textContent);
    if (was !== undefined) one.open = was;
  }
  return answer.querySelector("[data-look]").innerHTML;
}

/** Bring a list of named parts in step: parts that are gone go, new ones come, the others are merged. */
function mergeList(now, fresh, name, merge) {
  const wanted = [...fresh.children].filter((one) => one.hasAttribute(name));
  const names = new Set(wanted.map((one) => one.getAttribute(name)));
  const there = new Map();
  for (const one of [...now.children].filter((child) => child.hasAttribute(name))) {
    if (names.has(one.getAttribute(name)) || one.contains(document.activeElement)) there.set(one.getAttribute(name), one);
    else one.remove();
  }
  let before = null;
  for (const one of wanted) {
    const old = there.get(one.getAttribute(name));
    let placed = old;
    if (old) placed = merge(old, one);
    else if (before) before.after(one);
    else now.prepend(one);
    before = placed || one;
  }
}

function mergeBlock(now, fresh) {
  if (now.dataset.shape !== fresh.dataset.shape) return replaced(now, fresh);
  const [rows, freshRows] = [now.querySelector("[data-blocks]"), fresh.querySelector("[data-blocks]")];
  if (rows && freshRows) mergeList(rows, freshRows, "data-block", mergeBlock);
  mergeTold(now, fresh, "[data-told]");
  now.classList.toggle("wrong", fresh.classList.contains("wrong"));
  const [control, told] = [now.querySelector("[aria-describedby]"), fresh.querySelector("[aria-describedby]")];
  if (control && told?.hasAttribute("aria-invalid")) control.setAttribute("aria-invalid", "true");
  else control?.removeAttribute("aria-invalid");
  const was = now.querySelector("input[name^='was.']");
  if (was) was.value = fresh.querySelector("input[name^='was.']").value;
  return now;
}

function mergeTold(now, fresh, selector) {
  const told = new Map([...fresh.querySelectorAll(selector)].map((one) => [one.dataset.told, one]));
  for (const one of now.querySelectorAll(selector)) {
    const news = told.get(one.dataset.told);
    if (news && !one.contains(document.activeElement) && one.innerHTML !== news.innerHTML) one.innerHTML = news.innerHTML;
  }
}

/** A question that is asked in another way now: what was typed since the form was sent stays. */
function replaced(now, fresh) {
  const focused = now.contains(document.activeElement) ? document.activeElement.id : "";
  for (const one of now.querySelectorAll("[name]")) {
    const news = [...fresh.querySelectorAll("[name]")].find((other) => other.name === one.name);
    if (news && isTyped(one) && one.value !== sent.get(one.name)) news.value = one.value;
  }
  now.replaceWith(fresh);
  if (focused) document.getElementById(focused)?.focus();
  return fresh;
}

/** Enter goes on to the next field: calipers type it after each reading. It never keeps the whip. */
function goOn(event) {
  const element = event.target;
  if (event.key !== "Enter" || event.isComposing || !element.matches("input, select")) return;
  event.preventDefault();
  const fields = [...form.elements].filter((one) => isTyped(one) && one.offsetParent);
  fields[fields.indexOf(element) + 1]?.focus();
}

/** A proposal is put into its field, where it can be changed. */
function takeProposal(event) {
  const button = event.target.closest("button[data-take]");
  if (!button) return;
  const control = field(button.value);
  event.preventDefault();
  control.value = button.dataset.take;
  control.focus();
  control.dispatchEvent(new Event("input", { bubbles: true }));
}

/** Drafts that only this browser has are offered; of those that are recorded it lets go. */
async function offer() {
  const place = document.getElementById("in-this-browser");
  for (const [name, kept] of keptHere()) {
    if (name === token() || !kept) continue;
    let found;
    try {
      found = await (await fetch(`/record/${name}/standing`, { headers: { Accept: "application/json" } })).json();
    } catch { return; }
    if (found.state === "recorded") forgetHere(name);
    else if (!kept.kept && location.pathname === "/record") {
      const link = document.createElement("a");
      link.href = `/record/${name}`;
      link.textContent = `Go on with ${new Map(kept.texts).get("label") || "a whip without a label"}`;
      const words = document.createElement("p");
      words.append(link, ", as typed last in this browser.");
      place.append(words);
      place.hidden = false;
    }
  }
}

/** What this browser has and the server never got is put into the form; the server keeps it now. */
async function restore() {
  field("turn").value = field("seen").value;
  if (form.dataset.state !== "new") return keepHere({ kept: true });
  const here = keptHere().get(token());
  if (!here || here.kept) return;
  const pairs = new Map(here.texts);
  const fresh = await looked(here.texts);
  if (fresh === null) return;
  if (fresh.dataset.state === "recorded") return forgetHere(token());
  form.querySelector("[data-answer]").replaceWith(fresh);
  form.dataset.token = fresh.dataset.token;
  form.action = `/record/${fresh.dataset.token}`;
  field("turn").value = field("seen").value = fresh.dataset.seen;
  field("mode").value = pairs.get("mode") || "new";
  keepHere({ kept: true });
  standing.textContent = "Brought back as typed last in this browser.";
}

const soon = whenQuiet(() => send(), 250);
form.addEventListener("input", () => { keepHere(); soon(); });
form.addEventListener("change", () => { keepHere(); soon(); });
form.addEventListener("keydown", goOn);
form.addEventListener("click", takeProposal);
form.addEventListener("submit", () => keepHere());
restore().catch(() => {}).then(offer);
