(() => {
"use strict";
// Turns the page over when there is a newer report, where it was, and shows what is wrong with the spec meanwhile.
const built = +document.currentScript.dataset.built;
const place = "place " + location.pathname;
const kept = sessionStorage.getItem(place);
if (kept !== null) {
  sessionStorage.removeItem(place);
  scrollTo(0, +kept);
  addEventListener("load", () => scrollTo(0, +kept));
}
let note = null;
const news = new EventSource("/changes");
news.onmessage = e => {
  const now = JSON.parse(e.data);
  if (now.built !== built) {
    sessionStorage.setItem(place, scrollY);
    news.close();
    location.reload();
    return;
  }
  if (note) note.remove();
  note = null;
  if (!now.faults || !now.faults.length) return;
  note = document.createElement("aside");
  note.id = "faults";
  note.setAttribute("role", "alert");
  // Out of the flow, so that nothing below moves.
  note.style.cssText = "position:fixed;top:0;left:0;right:0;z-index:1;padding:.6rem .8rem;border:2px solid var(--mark,#9b2c12);background:var(--paper,#fff);max-height:45vh;overflow:auto";
  const head = document.createElement("p");
  head.textContent = built ? "The spec as it was saved last cannot be compiled. Below stands the last good report." : "The spec cannot be compiled.";
  const text = document.createElement("pre");
  text.tabIndex = 0;
  text.style.cssText = "white-space:pre-wrap;overflow-wrap:anywhere;margin:.4rem 0 0;font-size:.82rem";
  text.textContent = now.faults.join("\n\n");
  note.append(head, text);
  document.body.prepend(note);
};
})();
