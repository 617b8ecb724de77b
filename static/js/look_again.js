// Looks again while something is being made. Without script the page's own refresh does the same.

const place = document.querySelector("[data-look-again-s]");

function later() {
  setTimeout(() => (document.hidden ? later() : location.reload()), Number(place.dataset.lookAgainS) * 1000);
}

if (place) later();
