// Import: say at once what a chosen file is; show at once what other columns would make of the rows.
import { whenQuiet } from "./live.js";

const send = document.getElementById("send");
if (send) {
  const file = document.getElementById("file");
  const cells = document.getElementById("cells");
  const button = send.querySelector("button.main");
  const rename = () => {
    button.textContent = file.files.length ? `Look at ${file.files[0].name}` : "Look at it";
  };
  file.addEventListener("change", rename);
  // A file dropped anywhere on the form is chosen.
  send.addEventListener("dragover", (event) => event.preventDefault());
  send.addEventListener("drop", (event) => {
    if (!event.dataTransfer.files.length) return;
    event.preventDefault();
    file.files = event.dataTransfer.files;
    cells.value = "";
    rename();
  });
}

const step = document.getElementById("step");
const columns = document.getElementById("columns");
if (step && columns) {
  const rows = document.getElementById("rows");
  const place = (select) => {
    const at = select.closest("td").querySelector(".at");
    if (at) at.hidden = select.value !== "reading";
  };
  columns.querySelectorAll("select[name$=-key]").forEach((select) => {
    place(select);
    select.addEventListener("change", () => place(select));
  });
  // Another kind of table has other columns to choose from: the page is made anew.
  columns.addEventListener("change", (event) => {
    if (/-table$|^encoding$|-read$/.test(event.target.name)) step.requestSubmit();
    else if (!step.hasAttribute("data-long")) soon();
  });
  let latest = 0;
  let asking = null;
  step.addEventListener("submit", () => {
    step.dataset.sent = "yes";
    latest += 1;
    asking?.abort();
  });
  const soon = whenQuiet(async () => {
    const mine = ++latest;
    const unsure = [...columns.querySelectorAll("select[name$=-key]")].some((one) => one.value === "");
    if (unsure || step.dataset.sent) return;
    asking?.abort();
    asking = new AbortController();
    rows.toggleAttribute("data-old", true);
    try {
      const answer = await fetch(step.dataset.rows, { method: "POST", body: new URLSearchParams(new FormData(step)), headers: { Accept: "text/html" }, signal: asking.signal });
      const html = await answer.text();
      if (mine !== latest || answer.status !== 200) return;
      rows.innerHTML = html;
      rows.toggleAttribute("data-old", false);
    } catch {
      // The button still checks the rows.
    }
  }, 200);
}
