// Makes the plain pages quicker; without it everything still works.
"use strict";
(function () {
  const bench = document.getElementById("bench");
  const line = document.getElementById("line");
  if (bench && line) {
    // what was typed outlives a dead server, a closed tab and an empty battery; it is let go once it was counted
    const key = "typed in job " + bench.dataset.job;
    if (localStorage.getItem(key) === bench.dataset.last) localStorage.removeItem(key);
    if (!line.value) line.value = localStorage.getItem(key) || "";
    line.addEventListener("input", function () { localStorage.setItem(key, line.value); });
    if (matchMedia("(pointer: fine)").matches) line.focus({ preventScroll: true });
    // once htmx listens: what was kept is understood anew
    setTimeout(function () { if (line.value) line.dispatchEvent(new Event("input")); });
    document.addEventListener("keydown", function (event) {
      const typing = /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName);
      if (event.key === "/" && !typing) { event.preventDefault(); line.focus(); }
    });
  }
  // our own keys on a touch screen, so that both probes and the range stay in view; `abc` brings the device's
  const pad = document.getElementById("pad");
  if (pad && line && matchMedia("(pointer: coarse)").matches) {
    line.inputMode = "none";
    line.addEventListener("focus", function () { pad.hidden = line.inputMode !== "none"; });
    line.addEventListener("blur", function () { pad.hidden = true; });
    // the box keeps its focus: were the pad gone while the thumb comes down on Count it, it would miss
    line.form.addEventListener("pointerdown", function (event) {
      if (event.target.closest("button")) event.preventDefault();
    });
    pad.addEventListener("click", function (event) {
      const key = event.target.dataset.key;
      if (!key) return;
      if (key === "abc") { line.inputMode = "text"; pad.hidden = true; line.blur(); line.focus(); return; }
      const from = line.selectionStart, to = line.selectionEnd;
      if (key === "⌫") line.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
      else line.setRangeText(key === "−" ? "-" : key, from, to, "end");
      line.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
  // the refined answer takes the rough one's place; the entry box stays, and a card that is being answered too
  function settle() {
    const card = document.getElementById("card");
    if (!card || !card.dataset.refined) return;
    fetch(card.dataset.refined).then(function (answer) { return answer.ok ? answer.text() : ""; }).then(function (text) {
      if (!text) return;
      const fresh = new DOMParser().parseFromString(text, "text/html");
      const answering = line && line.value && document.querySelector(".cardhead");
      (answering ? ["suspects"] : ["card", "because", "others", "asked", "suspects"]).forEach(function (id) {
        const here = document.getElementById(id), there = fresh.getElementById(id);
        if (here && there) here.replaceWith(there);
      });
      if (!answering) settle();
    }).catch(function () { setTimeout(settle, 3000); });
  }
  settle();
  if ("speechSynthesis" in window) {
    document.documentElement.classList.add("speaks");
    document.addEventListener("click", function (event) {
      const button = event.target.closest(".aloud");
      if (button) { speechSynthesis.cancel(); speechSynthesis.speak(new SpeechSynthesisUtterance(button.dataset.say)); }
    });
  }
})();
