// "Print" opens the browser's own print window. Without script the button stays away; the browser's menu does the same.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
