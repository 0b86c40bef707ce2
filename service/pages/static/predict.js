// The answer while one types: the form is sent, and the pieces of the answer are put in place, except the one
// that is being typed in. Buttons on layers are answered without a reload too.
import { whenQuiet } from "./live.js";

const form = document.querySelector("#stack");
const QUIET_MS = 60;
const presses = [];
let typed = false;
let busy = false;

function marked(old) {
  for (const id of ["answer", "counts"]) document.getElementById(id).toggleAttribute("data-old", old);
}

/** Send the form, one request after the other: a button that was pressed is never overtaken by what is typed. */
async function send() {
  if (busy) return;
  busy = true;
  while (presses.length > 0 || typed) {
    const pressed = presses.shift() ?? "";
    if (!pressed) typed = false;
    const sent = new URLSearchParams(new FormData(form));
    if (pressed) sent.set("do", pressed);
    try {
      const answer = await fetch(form.dataset.answer, { method: "POST", body: sent, headers: { Accept: "text/html" } });
      const html = await answer.text();
      if (answer.ok) show(html, pressed);
      marked(!answer.ok);
    } catch {
      marked(true);
    }
  }
  busy = false;
}

function show(html, pressed) {
  const answer = new DOMParser().parseFromString(html, "text/html");
  for (const piece of document.querySelectorAll("[data-piece]")) {
    const now = answer.getElementById(piece.id);
    if (!now) continue;
    if (piece.id === "line-piece" && piece.contains(document.activeElement)) told(piece, now);
    else if (piece.id === "rows" && !pressed && now.dataset.from === "rows") toldRows(piece, now);
    else piece.innerHTML = now.innerHTML;
  }
  const address = answer.getElementById("answer")?.dataset.address;
  if (address && document.querySelector("#answer .size")) history.replaceState(null, "", address);
  if (pressed) goOn(pressed);
}

/** What is wrong with a line that is being typed: beside the field, which stays as it is. */
function told(piece, now) {
  const line = piece.querySelector("#line").closest(".field");
  const said = now.querySelector("#line").closest(".field");
  line.classList.toggle("wrong", said.classList.contains("wrong"));
  line.querySelector(".hint").innerHTML = said.querySelector(".hint").innerHTML;
  // From now on the layers say what the line said, and a change of either counts again.
  for (const name of ["line_was", "cords_was"]) {
    piece.querySelector(`[name=${name}]`).value = now.querySelector(`[name=${name}]`).value;
  }
}

/** The same of the layers: what is to be mended stands beneath its layer. */
function toldRows(piece, now) {
  const said = [...now.querySelectorAll(".layer")];
  for (const [k, layer] of [...piece.querySelectorAll(".layer")].entries()) {
    layer.querySelector(".mend")?.remove();
    const mend = said[k]?.querySelector(".mend");
    if (mend) layer.append(mend);
    layer.classList.toggle("wrong", Boolean(mend));
  }
}

/** Where the focus goes after a button on the layers: to what it was about. */
function goOn(pressed) {
  const [what, number] = pressed.split("-");
  const layers = document.querySelectorAll("#rows .layer");
  const elsewhere = document.activeElement !== document.body && !document.querySelector("#rows").contains(document.activeElement);
  if (layers.length === 0 || elsewhere) return;
  const at = { add: layers.length - 1, in: number - 2, out: Number(number), remove: number - 1 }[what] ?? 0;
  const layer = layers[Math.min(Math.max(at, 0), layers.length - 1)];
  (layer.querySelector(`button[value^="${what}-"]:not([disabled])`) ?? layer.querySelector("select")).focus();
}

const soon = whenQuiet(send, QUIET_MS);
form.addEventListener("input", () => {
  typed = true;
  soon();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const pressed = event.submitter?.value ?? "show";
  if (pressed === "show") typed = true;
  else presses.push(pressed);
  send();
});
