// Editing a whip: the lines of layers in words, as they are typed.
import { keepInStep } from "./live.js";

const form = document.getElementById("layers");
keepInStep(form, location.pathname, document.getElementById("echo"));
