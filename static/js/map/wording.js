// Sentences with their numbers. They come translated from the page: a string, or [for one, for several].
export function say(sentence, n = 0, words = "") {
  const text = Array.isArray(sentence) ? sentence[n === 1 ? 0 : 1] : sentence;
  return text.replace("{n}", n.toLocaleString(document.documentElement.lang || "en")).replace("{words}", words);
}
