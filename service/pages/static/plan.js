// Planning: the fields of what is chosen, the picture in step with the form, points that can be moved.
import { keepInStep } from "./live.js";

const form = document.querySelector("form[data-plan]");
const picture = document.getElementById("wanted-picture");
const way = form.querySelector("#way");

function showChosen() {
  for (const part of form.querySelectorAll("[data-way]")) {
    part.hidden = !part.dataset.way.split(" ").includes(way.value);
  }
}
way.addEventListener("change", showChosen);
showChosen();

// Counts the saves of this page: one that arrives late must not undo a later one.
const turn = form.elements.namedItem("turn");
const next = () => { turn.value = Number(turn.value) + 1; };
for (const kind of ["input", "change", "submit"]) form.addEventListener(kind, next);

// Which point had the focus when the picture was drawn anew.
let chosen = "";
const send = keepInStep(form, picture.dataset.address, picture, { after: ready });

/** Points can be reached with the keyboard and taken hold of once this script runs. */
function ready(answer) {
  picture.classList.add("moves");
  for (const grip of picture.querySelectorAll(".grip")) {
    grip.setAttribute("tabindex", "0");
    grip.setAttribute("role", "slider");
    grip.setAttribute("aria-label", grip.dataset.name);
    grip.setAttribute("aria-orientation", "vertical");
    const size = fieldOf(grip.dataset.size);
    grip.setAttribute("aria-valuetext", grip.querySelector("title").textContent);
    grip.setAttribute("aria-valuenow", String(parseFloat(size?.value) || 0));
    if (grip.dataset.name === chosen) grip.focus();
  }
  if (answer?.ok && location.pathname === "/plan") {
    // What was typed is kept under its own address from now on: a reload does not lose it.
    history.replaceState(null, "", form.getAttribute("action"));
  }
}

const fieldOf = (name) => (name ? form.elements.namedItem(name) : null);
const scale = () => picture.querySelector("svg").dataset;
const units = () => picture.querySelector(".wanted").dataset;
const sizeStep = () => (units().diameters === "in" ? 0.005 : 0.1);
const placeStep = () => ({ in: 0.5, mm: 10, cm: 1, m: 0.01 })[units().lengths];
const rounded = (value, step) => String(Number((Math.round(value / step) * step).toFixed(3)));

/** Where a point lies now, in the units of the picture's axes. */
function placeOf(grip) {
  const knob = grip.querySelector(".knob");
  const { left, right, long, bottom, top, thick } = numbers();
  return {
    at: ((knob.cx.baseVal.value - left) / (right - left)) * long,
    size: ((bottom - knob.cy.baseVal.value) / (bottom - top)) * thick,
  };
}

function numbers() {
  return Object.fromEntries(Object.entries(scale()).map(([key, text]) => [key, Number(text)]));
}

/** Put a point somewhere and type what that is into its fields. */
function put(grip, at, size) {
  const { left, right, long, bottom, top, thick } = numbers();
  at = Math.min(Math.max(at, 0), long);
  size = Math.max(size, sizeStep());
  const atField = fieldOf(grip.dataset.at);
  const sizeField = fieldOf(grip.dataset.size);
  if (atField) {
    const typed = grip.dataset.back ? long - at : at;
    atField.value = `${rounded(typed, placeStep())} ${units().lengths}`;
  }
  if (sizeField) sizeField.value = `${rounded(size, sizeStep())} ${units().diameters}`;
  for (const circle of grip.querySelectorAll("circle")) {
    circle.setAttribute("cx", left + (at / long) * (right - left));
    circle.setAttribute("cy", bottom - (size / thick) * (bottom - top));
  }
}

picture.addEventListener("pointerdown", (event) => {
  const name = event.target.closest(".grip")?.dataset.name;
  if (!name) return;
  event.preventDefault();
  chosen = name;
  // The picture may be drawn anew meanwhile, so the part around it listens and the point is looked up.
  picture.setPointerCapture(event.pointerId);
  const held = () => [...picture.querySelectorAll(".grip")].find((grip) => grip.dataset.name === name);
  held().classList.add("held");
  const move = (moved) => {
    const grip = held();
    if (!grip) return;
    const matrix = grip.ownerSVGElement.getScreenCTM().inverse();
    const point = new DOMPoint(moved.clientX, moved.clientY).matrixTransform(matrix);
    const { left, right, long, bottom, top, thick } = numbers();
    put(grip, ((point.x - left) / (right - left)) * long, ((bottom - point.y) / (bottom - top)) * thick);
  };
  const drop = () => {
    picture.removeEventListener("pointermove", move);
    picture.removeEventListener("pointerup", drop);
    picture.removeEventListener("pointercancel", drop);
    held()?.classList.remove("held");
    next();
    send();
  };
  picture.addEventListener("pointermove", move);
  picture.addEventListener("pointerup", drop);
  picture.addEventListener("pointercancel", drop);
});

picture.addEventListener("keydown", (event) => {
  const grip = event.target.closest(".grip");
  const step = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] }[event.key];
  if (!grip || !step) return;
  event.preventDefault();
  chosen = grip.dataset.name;
  const far = event.shiftKey ? 5 : 1;
  const { at, size } = placeOf(grip);
  put(grip, at + step[0] * placeStep() * far, size + step[1] * sizeStep() * far);
  form.dispatchEvent(new Event("input"));
});
picture.addEventListener("focusout", (event) => {
  if (event.relatedTarget && !event.relatedTarget.closest(".grip")) chosen = "";
});

ready();
