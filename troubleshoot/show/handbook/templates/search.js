"use strict";
// Finds pages by the words of the index that stands in this page. Nothing is fetched.
(() => {
  const entries = JSON.parse(document.getElementById("index").textContent);
  const form = document.getElementById("finder");
  const box = document.getElementById("words");
  const list = document.getElementById("found");
  const count = document.getElementById("count");
  const most = 25;

  const plain = (text) => text.toLowerCase().normalize("NFD").replace(/[\u0300-\u036f]/g, "");
  const split = (text) => plain(text).split(/[^a-z0-9]+/).filter(Boolean);

  // One slip of the finger: a letter more, less, wrong, or two swapped.
  const slip = (a, b) => {
    if (Math.abs(a.length - b.length) > 1) return false;
    let i = 0;
    while (i < a.length && i < b.length && a[i] === b[i]) i++;
    const rest = (x, y) => a.slice(i + x) === b.slice(i + y);
    return rest(1, 1) || rest(1, 0) || rest(0, 1) ||
      (a[i] === b[i + 1] && a[i + 1] === b[i] && rest(2, 2));
  };

  for (const entry of entries) {
    entry.title = split(entry.name);
    entry.said = plain(entry.words);
    entry.all = new Set(split(entry.words));
  }

  const weigh = (entry, word) => {
    if (entry.title.includes(word)) return 6;
    if (entry.title.some((w) => w.startsWith(word))) return 4;
    if (entry.all.has(word)) return 3;
    const near = (w) => w.startsWith(word) || (word.length > 3 && slip(w, word));
    if (entry.title.some(near)) return 2;
    for (const w of entry.all) if (near(w)) return 1;
    return 0;
  };

  const find = (text) => {
    const words = split(text);
    const hits = [];
    for (const entry of entries) {
      let sum = 0, all = words.length > 0;
      for (const word of words) {
        const weight = weigh(entry, word);
        if (!weight) { all = false; break; }
        sum += weight;
      }
      // Said just so by somebody; then what one comes with, and what is behind it.
      if (words.length > 1 && entry.said.includes(words.join(" "))) sum += 8;
      sum += { complaint: 1, cause: 0.5 }[entry.kind] ?? 0;
      if (all) hits.push([sum - entry.title.length / 20, entry]);
    }
    return hits.sort((a, b) => b[0] - a[0]).map((hit) => hit[1]);
  };

  const show = () => {
    const hits = find(box.value);
    list.replaceChildren(...hits.slice(0, most).map((entry) => {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = entry.address;
      link.textContent = entry.name;
      const kind = document.createElement("span");
      kind.className = "kind";
      kind.textContent = " " + entry.kind;
      item.append(link, kind);
      return item;
    }));
    count.textContent = !box.value.trim() ? "" :
      !hits.length ? "Nothing has all of these words: leave one out." :
      hits.length > most ? `${most} of ${hits.length}: add a word.` : `${hits.length} found.`;
  };

  // The words may stand in the address, so that a search can be kept as a bookmark.
  const asked = () => {
    let words = location.hash.slice(1);
    try { words = decodeURIComponent(words); } catch { /* as it stands */ }
    if (words && !document.getElementById(words)) { box.value = words; show(); }
  };
  form.hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  box.addEventListener("input", show);
  window.addEventListener("hashchange", asked);
  asked();
})();
