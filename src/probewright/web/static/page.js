// Makes the plain pages quicker; without it everything still works.
"use strict";
(function () {
  // a browser that keeps nothing still has a page that works
  function keep(key, text) { try { if (text) localStorage.setItem(key, text); else localStorage.removeItem(key); } catch { /* not kept */ } }
  function recall(key) { try { return localStorage.getItem(key) || ""; } catch { return ""; } }
  const bench = document.getElementById("bench");
  const line = document.getElementById("line");
  if (bench && line) {
    // what was typed outlives a dead server, a closed tab and an empty battery; it is let go once it was counted
    const key = "typed in job " + bench.dataset.job, aside = key + ", before";
    const last = bench.dataset.last.replace(/; (not showing|can't tell)(?= #|$)/, ""); // as typed: the chips say the rest
    // in a practice the last line has its answer in the place of what was typed, and nothing that was read is lost
    const counted = function (text) { return "practice" in bench.dataset || [last, bench.dataset.last].includes(text.trim()); };
    [key, aside].forEach(function (one) { if (counted(recall(one))) keep(one, ""); });
    if (recall(key).startsWith(line.value)) line.value = recall(key);
    else if (recall(key) && recall(key) !== line.value) keep(aside, recall(key)); // a place was pressed over a line not sent
    line.addEventListener("input", function (event) { if (event.isTrusted || event.bubbles) keep(key, line.value); });
    if (recall(aside) && recall(aside) !== line.value) {
      const back = document.createElement("button");
      back.type = "button"; back.id = "aside"; back.textContent = "Bring back: " + recall(aside);
      back.addEventListener("click", function () {
        line.value = recall(aside); keep(aside, ""); back.remove(); line.focus();
        line.dispatchEvent(new Event("input", { bubbles: true }));
      });
      document.getElementById("understood").after(back);
    }
    if (matchMedia("(pointer: fine)").matches) line.focus({ preventScroll: true });
    line.setSelectionRange(line.value.length, line.value.length); // behind the place that stands there
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
  // a part that is worked out by itself takes the place of the way to its page
  function fetchPieces() {
    document.querySelectorAll("[data-piece]").forEach(function (one) {
      const from = one.dataset.piece;
      one.removeAttribute("data-piece");
      fetch(from).then(function (answer) { return answer.ok ? answer.text() : ""; }).then(function (text) {
        const there = text && new DOMParser().parseFromString(text, "text/html").getElementById("piece");
        if (!there) return;
        const fresh = document.importNode(there, true);
        fresh.id = one.id;
        one.replaceWith(fresh);
        fetchPieces(); // what was there at once may have more to come
      }).catch(function () { /* the way to its page stays */ });
    });
  }
  fetchPieces();
  // a file dropped on the page is read, as if it had been chosen; dropped elsewhere it would take the page away
  const taken = document.getElementById("taken");
  if (taken) {
    const bringsFile = function (event) { return event.dataTransfer && Array.from(event.dataTransfer.types).includes("Files"); };
    const over = function (yes) {
      [document.getElementById("card"), taken].forEach(function (one) { if (one) one.classList.toggle("over", yes); });
    };
    document.addEventListener("dragover", function (event) { if (bringsFile(event)) { event.preventDefault(); over(true); } });
    document.addEventListener("dragleave", function (event) { if (!event.relatedTarget) over(false); });
    document.addEventListener("drop", function (event) {
      over(false);
      if (!bringsFile(event)) return;
      event.preventDefault();
      const file = document.getElementById("file");
      file.files = event.dataTransfer.files;
      file.closest("details")?.setAttribute("open", "");
      taken.requestSubmit();
    });
  }
  // the refined answer takes the rough one's place; the entry box stays, and a card that is being answered too
  let waiting = null;
  function put(fresh, ids) {
    const open = Array.from(document.querySelectorAll("#suspects li > details[open] .letter")).map(function (one) { return one.textContent; });
    ids.forEach(function (id) {
      const here = document.getElementById(id), there = fresh.getElementById(id);
      if (here && there) here.replaceWith(document.importNode(there, true));
    });
    const at = document.getElementById("at"), theirs = fresh.getElementById("at");
    if (ids.includes("card") && at && theirs && at.value === at.defaultValue) at.value = at.defaultValue = theirs.value;
    document.getElementById("bench").classList.toggle("stopping", fresh.getElementById("bench").classList.contains("stopping"));
    document.dispatchEvent(new Event("put"));
    fetchPieces();
    document.querySelectorAll("#suspects li > details").forEach(function (one) {
      if (open.includes(one.querySelector(".letter").textContent)) one.open = true;
    });
  }
  function settle() {
    const card = document.getElementById("card");
    if (!card || !card.dataset.refined) return;
    fetch(card.dataset.refined).then(function (answer) { return answer.ok ? answer.text() : Promise.reject(new Error("failed")); }).then(function (text) {
      const fresh = new DOMParser().parseFromString(text, "text/html"), theirs = fresh.getElementById("card");
      const answering = line && line.value && document.querySelector(".cardhead");
      const outranks = ["clocked", "stopped", "firstpower", "suspects", "readings"]; // power and heat count also for who is answering
      put(fresh, answering ? outranks : ["card", "group", "because", "others", "asked", ...outranks]);
      waiting = answering ? fresh : null;
      if (theirs && theirs.dataset.refined) setTimeout(settle, 500); // still rough
    }).catch(function (problem) {
      if (problem.message === "failed" && !document.getElementById("unsettled")) {
        const said = document.createElement("p");
        said.id = "unsettled"; said.className = "question";
        said.textContent = "The refined answer could not be worked out; what you enter is kept. It is tried again.";
        card.append(said);
      }
      setTimeout(settle, problem.message === "failed" ? 15000 : 3000);
    });
  }
  if (line) line.addEventListener("input", function () {
    if (!line.value && waiting) { put(waiting, ["card", "group", "because", "others", "asked"]); waiting = null; }
  });
  settle();
  const run = document.querySelector("[data-ran]"); // a run on trial; seconds at the bench when the page was made
  if (run) setInterval(function () {
    const minutes = Math.floor((Number(run.dataset.ran) + performance.now() / 1000) / 60);
    run.textContent = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
  }, 5000);
  if ("speechSynthesis" in window) {
    document.documentElement.classList.add("speaks");
    document.addEventListener("click", function (event) {
      const button = event.target.closest(".aloud");
      if (button) { speechSynthesis.cancel(); speechSynthesis.speak(new SpeechSynthesisUtterance(button.dataset.say)); }
    });
  }
})();
