// While one types: what the cord will come out at; what is typed stays in the address, so that nothing is lost.
import { keepInStep } from "./live.js";

const form = document.getElementById("new-cord");
const told = document.getElementById("told");
const said = document.getElementById("said");

document.getElementById("show").hidden = true;
keepInStep(form, "/new-cord/tried", told, {
  quietMs: 120,
  after() {
    const typed = [...new FormData(form)].filter(([, text]) => text !== "");
    history.replaceState(null, "", `/new-cord?${new URLSearchParams(typed)}`);
    said.textContent = told.querySelector(".large")?.textContent ?? "";
  },
});
