// Checks the machine file while it is written, and keeps its text in the browser; without it the buttons do the same.
"use strict";
(function () {
  const editor = document.getElementById("editor"), text = document.getElementById("text");
  if (!editor || !text) return;
  const numbers = document.getElementById("numbers"), checked = document.getElementById("checked");
  const paper = document.getElementById("paper"), state = document.getElementById("state");
  const file = document.getElementById("file"), older = document.getElementById("older");
  const now = "machine of job " + editor.dataset.job, before = now + ", before", mark = document.getElementById("mark");
  const fresh = editor.dataset.fresh === "yes"; // the page shows the job's own file as it stands
  const start = text.value, most = 1000000; // letters: what the program takes in one form
  function load(key) { try { return JSON.parse(localStorage.getItem(key)); } catch (problem) { return null; } }
  function keep(key, said) { try { localStorage.setItem(key, JSON.stringify(said)); } catch (problem) { state.textContent = "This browser keeps no text; put it to the job soon."; } }
  function number() {
    const lines = text.value.split("\n"), rows = String(lines.length);
    if (numbers.dataset.rows !== rows) {
      numbers.textContent = lines.map(function (_, n) { return n + 1; }).join("\n");
      numbers.dataset.rows = text.rows = rows;
    }
    text.cols = lines.reduce(function (most, one) { return Math.max(most, one.length); }, 0) + 2;
  }
  // a text that takes the place of another one is not the end of it
  function replace(other) {
    if (text.value.trim() && text.value !== other && !(fresh && text.value === start)) keep(before, { text: text.value });
    text.value = other;
    changed();
    offer();
  }
  function offer() {
    const said = load(before);
    if (said && said.text === text.value) localStorage.removeItem(before);
    older.hidden = !said || said.text === text.value;
  }
  function changed() {
    number();
    state.textContent = ""; // what was said was said of another text
    if (fresh && text.value === start) localStorage.removeItem(now);
    else keep(now, { text: text.value, mark: mark.value });
    clearTimeout(timer);
    timer = setTimeout(check, 300); // ms, chosen: a pause in typing
  }

  let coming = null, timer = 0;
  function ask(piece) {
    return fetch(editor.dataset.check, { method: "POST", body: body(), headers: { "X-Piece": piece }, signal: coming.signal })
      .then(function (answer) {
        if (!answer.ok) throw new Error(answer.status);
        return answer.status === 204 ? null : answer.text();
      });
  }
  function body() {
    const form = new FormData(editor);
    form.delete("upload");
    return form;
  }
  function put(piece) {
    const answer = new DOMParser().parseFromString(piece, "text/html");
    ["said", "found"].forEach(function (id) {
      const there = answer.getElementById(id), here = document.getElementById(id);
      if (there && here) here.replaceWith(there);
      else if (there) checked.append(there);
    });
    const loads = document.getElementById("said").dataset.loads === "yes", last = document.getElementById("last");
    if (last) last.hidden = loads;
    checked.classList.toggle("stale", !loads);
    return loads;
  }
  function check() {
    clearTimeout(timer);
    if (coming) coming.abort(); // the newest wins
    if (text.value.length > most) { state.textContent = "This text is too long to be sent; a machine file has at most 250000 letters."; return; }
    coming = new AbortController();
    ask("said").then(function (piece) {
      if (piece === null) return null;
      const loads = put(piece);
      state.textContent = loads ? "Drawing and computing." : tell();
      return loads ? ask("found") : null;
    }).then(function (piece) {
      if (piece === null) return;
      const at = document.activeElement && document.activeElement.id;
      put(piece);
      if (at === "at") document.getElementById("at").focus();
      state.textContent = tell();
    }).catch(function (problem) {
      if (problem.name !== "AbortError") state.textContent = "It could not be checked now. Your text is kept in this browser.";
    });
  }
  function tell() {
    const said = document.getElementById("said"), head = said.querySelector("h3");
    const whose = fresh && text.value === start ? "" : " Not put to the job yet.";
    return (head ? head.textContent + "." : said.dataset.loads === "yes" ? "Readable." : "") + whose;
  }

  text.addEventListener("input", changed);
  editor.addEventListener("submit", function (event) {
    const pressed = event.submitter;
    if (pressed && (pressed.id === "check" || "at" in pressed.dataset)) { event.preventDefault(); check(); }
    else if (pressed && pressed.id === "open" && file.files[0]) { event.preventDefault(); open(); }
  });
  checked.addEventListener("change", function (event) { if (event.target.id === "at") check(); });
  checked.addEventListener("click", function (event) {
    const link = event.target.closest(".goto");
    if (!link) return;
    event.preventDefault();
    const lines = text.value.split("\n"), row = Math.min(Number(link.dataset.line), lines.length);
    // columns count whole letters; a browser counts some of them twice
    const reached = Array.from(lines[row - 1]).slice(0, Number(link.dataset.column) - 1).join("").length;
    const at = lines.slice(0, row - 1).reduce(function (sum, one) { return sum + one.length + 1; }, 0) + reached;
    text.focus({ preventScroll: true });
    text.setSelectionRange(at, at);
    paper.scrollIntoView({ block: "nearest" });
    const high = parseFloat(getComputedStyle(text).lineHeight);
    paper.scrollTop = Math.max(0, (row - 5) * high);
    paper.scrollLeft = Math.max(0, (reached / text.cols) * text.offsetWidth - paper.clientWidth / 2);
  });
  function open() {
    const one = file.files[0];
    if (one.size > most) { state.textContent = "This file is too long to be a machine file."; return; }
    one.arrayBuffer().then(function (data) {
      let read = "";
      try { read = new TextDecoder("utf-8", { fatal: true }).decode(data); }
      catch (problem) { state.textContent = "This file is not text. Save it as UTF-8 and open it again."; return; }
      document.getElementById("file-name").value = one.name;
      replace(read.replace(/\r\n/g, "\n"));
    });
  }
  document.getElementById("bring").addEventListener("click", function () {
    const said = load(before);
    if (said) { localStorage.removeItem(before); replace(said.text); text.focus(); }
  });
  document.getElementById("forget").addEventListener("click", function () { localStorage.removeItem(before); older.hidden = true; text.focus(); });

  // what was typed outlives a closed tab; text for a file that changed since is offered, not put in
  const left = load(now);
  if (left && left.text === start) localStorage.removeItem(now);
  else if (left && fresh && left.mark === mark.value) {
    text.value = left.text;
    check();
  } else if (left) { keep(before, left); localStorage.removeItem(now); }
  if (!fresh && text.value === start && start.trim()) { keep(now, { text: start, mark: mark.value }); state.textContent = tell(); }
  number();
  offer();
})();
