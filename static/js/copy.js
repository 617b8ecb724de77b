// “Copy the words”: puts them where a message can be pasted from. Without this file they are marked and copied by hand.
for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).value);
    button.textContent = button.dataset.done;
  });
}
