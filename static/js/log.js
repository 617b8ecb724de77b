// Big steps and marks for the amount, and a Save that says what it will save. The form works without this.
import { readMl, showMl, step } from "./steps.js";

const form = document.getElementById("log");
const amount = form.querySelector("[name=volume]");
const unit = form.querySelector(".amount .unit").textContent.trim();
const stepMl = Number(form.dataset.stepMl);
const word = form.querySelector("[data-save-word]");
const save = word.textContent;

function tell() {
  const ml = readMl(amount.value, unit);
  const look = form.querySelector("[name=look]:checked");
  const kind = look ? look.closest("label").textContent.trim().toLowerCase() : "";
  word.textContent = ml === null ? save : `${save} ${amount.value.trim()}\u00a0${unit}${kind ? `, ${kind}` : ""}`;
}

for (const button of form.querySelectorAll("[data-step]")) {
  button.hidden = false;
  button.addEventListener("click", () => {
    amount.value = showMl(step(readMl(amount.value, unit) ?? 0, stepMl, Number(button.dataset.step)), unit);
    tell();
  });
}
form.querySelector("[data-marks]").hidden = false;
for (const button of form.querySelectorAll("[data-ml]")) {
  button.addEventListener("click", () => {
    amount.value = showMl(Number(button.dataset.ml), unit);
    tell();
  });
}
form.addEventListener("input", tell);
tell();
