// Taking readings without a reload. Calipers may type on while the last reading is under way: what they send
// waits in a queue, the field stays as it is, and nothing ever moves the focus away from it.

const form = document.querySelector("#reading");
const other = document.querySelector("#other");
const field = document.querySelector("#size");
const waiting = [];
let busy = false;

/** Put the pieces of an answer in place; the field is none of them. Whether it says that nothing was taken. */
function show(html) {
  const answer = new DOMParser().parseFromString(html, "text/html");
  for (const piece of document.querySelectorAll("[data-piece]")) {
    const now = answer.getElementById(piece.id);
    if (now) piece.innerHTML = now.innerHTML;
  }
  form.hidden = answer.querySelector("#reading")?.hidden ?? form.hidden;
  const due = document.querySelector("#stations tr.due");
  const table = document.querySelector(".stays");
  if (due && table.scrollHeight > table.clientHeight) {
    table.scrollTop = due.offsetTop - table.clientHeight / 2;
  }
  return document.querySelector("#told .refused") !== null;
}

function tell(words) {
  const line = document.createElement("p");
  line.className = "refused";
  line.textContent = words;
  document.querySelector("#told").replaceChildren(line);
}

function wrong(on) {
  field.setAttribute("aria-invalid", String(on));
  field.closest(".field").classList.toggle("wrong", on);
}

/** Send what waits, one after the other: each answer says which step the next one is. */
async function send() {
  if (busy) return;
  busy = true;
  while (waiting.length > 0) {
    const { what, size } = waiting[0];
    const sent = new URLSearchParams({ do: what, part: "yes", step: form.querySelector("[name=step]").value });
    if (what === "reading") sent.set("size", size);
    let answer;
    try {
      answer = await fetch(form.action, { method: "POST", body: sent, headers: { Accept: "text/html" } });
    } catch {
      tell(`${size ? `${size} is` : "That is"} not stored yet: the server does not answer. It is sent again.`);
      await new Promise((resolve) => setTimeout(resolve, 1500));
      continue;
    }
    const html = await answer.text();
    waiting.shift();
    if (answer.ok) {
      const refused = show(html);
      wrong(refused);
      if (refused && what === "reading" && field.value === "" && waiting.length === 0) {
        field.value = size;
        field.select();
      }
    } else {
      tell(`The server could not take ${size || "that"}. Reload the page to see what is stored.`);
      if (size && field.value === "") field.value = size;
    }
  }
  busy = false;
}

function ask(what, size = "") {
  waiting.push({ what, size });
  send();
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const size = field.value.trim();
  field.value = "";
  field.focus();
  if (size !== "") ask("reading", size);
});

other.addEventListener("submit", (event) => {
  event.preventDefault();
  field.focus();
  ask(event.submitter?.value ?? "pass");
});

// A button that is touched does not take the focus, so that the next Enter of the calipers is no second touch.
for (const one of [form, other]) {
  one.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button")) event.preventDefault();
  });
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !event.repeat) {
    event.preventDefault();
    if (field.value !== "") field.value = "";
    else ask("back");
    field.focus();
    return;
  }
  // What calipers type goes into the field, wherever the focus was left.
  const away = document.activeElement !== field;
  if (away && !form.hidden && /^[0-9.,+]$/.test(event.key) && !event.ctrlKey && !event.metaKey && !event.altKey) {
    field.focus();
  }
});

if (!form.hidden) field.focus();
if (field.value !== "") field.select();
