// Steps before a reading, where power, heat or charge count: ticked one by one, then the entry box is back.
"use strict";
(function () {
  let list = null;
  function recall(key) { try { return (sessionStorage.getItem(key) || "").split(","); } catch { return []; } }
  function keep(key, done) { try { sessionStorage.setItem(key, done.join(",")); } catch { /* not kept */ } }
  function button(says, kind) {
    const one = document.createElement("button");
    one.type = "button"; one.textContent = says; one.className = kind;
    return one;
  }
  // a card that was exchanged brings its own list
  function begin() {
    const there = document.getElementById("steps"), entry = document.getElementById("entry");
    if (there === list) return;
    list = there;
    document.querySelectorAll(".stepbar").forEach(function (one) { one.remove(); });
    document.documentElement.classList.remove("waiting");
    if (list && entry && !new URLSearchParams(location.search).has("at")) follow(entry, document.getElementById("stepped"));
  }
  function follow(entry, form) {
    const boxes = Array.from(list.querySelectorAll("input"));
    const key = "steps of job " + list.dataset.job + ": " + list.textContent.replace(/\s+/g, " ");
    const done = recall(key);
    const bar = document.createElement("div"), next = button("", "main"), other = button("Type a line instead", "other");
    boxes.forEach(function (one, n) { one.checked = done.includes(String(n)); });
    bar.className = "stepbar";
    bar.setAttribute("role", "group"); bar.setAttribute("aria-label", "Steps");
    bar.append(next, other);
    list.after(bar);
    // what tells the record that the set-up changed comes last; where power must go off first, that comes first
    const called = form ? form.textContent.trim() : "";
    function sends(at) { return Boolean(form) && at === (called === "Power is off" ? 0 : boxes.length - 1); }
    function look() {
      const at = boxes.findIndex(function (one) { return !one.checked; });
      keep(key, boxes.flatMap(function (one, n) { return one.checked ? [n] : []; }));
      boxes.forEach(function (one, n) { one.closest("li").classList.toggle("now", n === at); });
      next.textContent = sends(at) ? called : "Step " + (at + 1) + " done";
      bar.hidden = at === -1;
      document.documentElement.classList.toggle("waiting", at !== -1);
    }
    list.addEventListener("change", look);
    next.addEventListener("click", function () {
      const at = boxes.findIndex(function (one) { return !one.checked; });
      if (sends(at)) { keep(key, []); form.requestSubmit(); return; } // its steps begin anew the next time
      boxes[at].checked = true;
      look();
    });
    other.addEventListener("click", function () {
      bar.hidden = true;
      document.documentElement.classList.remove("waiting");
      document.getElementById("line").focus();
    });
    look();
  }
  document.addEventListener("put", begin);
  begin();
})();
