// "More containers" adds one on the page. Without script the button asks the server for more and keeps what was typed.

const button = document.querySelector("[data-more-cans]");
const cans = document.getElementById("cans");
const mould = document.getElementById("one-more-can");
const count = document.querySelector("input[name=form-TOTAL_FORMS]");
const most = Number(document.querySelector("input[name=form-MAX_NUM_FORMS]")?.value || 40);

if (button && cans && mould && count) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    const number = Number(count.value);
    const made = mould.content.cloneNode(true);
    for (const part of made.querySelectorAll("[id], [name], [for], [aria-describedby], [value]")) {
      for (const name of ["id", "name", "for", "aria-describedby"]) {
        const value = part.getAttribute(name);
        if (value) part.setAttribute(name, value.replaceAll("__prefix__", String(number)));
      }
    }
    const legend = made.querySelector("legend");
    legend.textContent = `${legend.textContent.trim()} ${number + 1}`;
    cans.append(made);
    count.value = String(number + 1);
    button.hidden = number + 1 >= most;
    cans.lastElementChild.querySelector("input:not([type=hidden])").focus();
  });
}
