// Checks the machine file while it is written; without it the button `Check it` does the same.
"use strict";
(function () {
  const editor = document.getElementById("editor"), text = document.getElementById("text");
  const numbers = document.getElementById("numbers"), checked = document.getElementById("checked");
  const state = document.getElementById("state"), file = document.getElementById("file");
  if (!editor || !text) return;
  const key = "machine of job " + editor.dataset.job, start = text.value;
  const kept = localStorage.getItem(key);
  // a text that was not put to the job outlives a closed tab; it is let go once the job has it
  if (kept !== null && kept !== start && !location.search) { text.value = kept; state.textContent = "Your text from before, not put to the job yet."; }
  let coming = null, timer = 0;
  function number() {
    const count = text.value.split("\n").length;
    if (numbers.dataset.count !== String(count)) {
      numbers.textContent = Array.from({ length: count }, function (_, n) { return n + 1; }).join("\n");
      numbers.dataset.count = count;
    }
    numbers.scrollTop = text.scrollTop;
  }
  function check() {
    if (coming) coming.abort(); // the newest wins
    coming = new AbortController();
    const form = new FormData(editor);
    state.textContent = "Checking";
    fetch(editor.dataset.check, { method: "POST", body: new URLSearchParams(form), headers: { "X-Piece": "1" }, signal: coming.signal })
      .then(function (answer) { return answer.ok ? answer.text() : Promise.reject(new Error(answer.status)); })
      .then(function (piece) {
        const fresh = new DOMParser().parseFromString(piece, "text/html").body;
        const last = checked.querySelector("#drawn");
        if (!fresh.querySelector("#drawn") && last) {
          const said = document.createElement("p");
          said.textContent = "The diagram and figures below are of the last text that could be read.";
          if (!checked.classList.contains("stale")) last.prepend(said);
          fresh.append(last); checked.classList.add("stale");
        } else checked.classList.remove("stale");
        checked.replaceChildren.apply(checked, Array.from(fresh.childNodes));
        state.textContent = text.value === start ? "" : "Not put to the job yet.";
      }).catch(function (problem) {
        if (problem.name !== "AbortError") state.textContent = "Could not be checked now; your text is kept here.";
      });
  }
  text.addEventListener("input", function () {
    localStorage.setItem(key, text.value); number(); clearTimeout(timer); timer = setTimeout(check, 500);
  });
  text.addEventListener("scroll", number);
  editor.addEventListener("submit", function (event) {
    if (event.submitter && event.submitter.hasAttribute("formaction")) { event.preventDefault(); check(); }
  });
  document.addEventListener("click", function (event) {
    const link = event.target.closest(".goto");
    if (!link) return;
    event.preventDefault();
    const lines = text.value.split("\n"), row = Math.min(Number(link.dataset.line), lines.length);
    let at = lines.slice(0, row - 1).reduce(function (sum, one) { return sum + one.length + 1; }, 0);
    at += Math.min(Number(link.dataset.column) - 1, lines[row - 1].length);
    text.focus(); text.setSelectionRange(at, at);
    text.scrollTop = Math.max(0, (row - 5) * parseFloat(getComputedStyle(text).lineHeight));
  });
  file.closest("label").hidden = false;
  file.addEventListener("change", function () {
    if (file.files[0]) file.files[0].text().then(function (read) { text.value = read; text.dispatchEvent(new Event("input")); });
  });
  if (kept !== null && kept === start) localStorage.removeItem(key);
  number();
  if (text.value !== start) check();
})();
