// Sentences with their numbers. They come translated from the page: a string, or [for one, for several].
let numbers = null;

/** A whole number as this page's language writes it. */
export function numberWords(n) {
  numbers ??= new Intl.NumberFormat(globalThis.document?.documentElement.lang || "en");
  return numbers.format(n);
}

export function say(sentence, n = 0, words = "") {
  const text = Array.isArray(sentence) ? sentence[n === 1 ? 0 : 1] : sentence;
  return text.replace("{n}", numberWords(n)).replace("{words}", words);
}
