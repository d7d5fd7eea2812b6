// Marks on a picture at once, and pictures sent one by one; without it a click sends the form.
"use strict";
(function () {
  const shot = document.getElementById("shot"), form = document.getElementById("naming");
  const place = document.getElementById("place"), fresh = document.getElementById("fresh");
  const fields = [document.getElementById("share-x"), document.getElementById("share-y")];
  const hint = document.getElementById("hint");
  if (shot && place) {
    const picture = Array.from(shot.querySelectorAll("input"));
    const put = function (x, y) {
      [x, y].forEach(function (share, n) {
        const kept = Math.min(100, Math.max(0, share)).toFixed(2);
        fields[n].value = kept;
        fresh.setAttribute("xy"[n], kept + "%");
      });
      fresh.removeAttribute("display");
    };
    const tell = function (said) { hint.textContent = said; };
    const keep = function () {
      if (!fields[0].value) { tell("Click where it is first."); return; }
      if (place.value.trim()) form.requestSubmit(document.getElementById("keep"));
      else { tell("Now give it a name."); place.focus(); }
    };
    picture.forEach(function (one) {
      one.addEventListener("click", function (event) {
        event.preventDefault();
        if (event.detail === 0) { keep(); return; }  // Enter or the space bar
        const box = one.getBoundingClientRect();
        put(100 * (event.clientX - box.left) / box.width, 100 * (event.clientY - box.top) / box.height);
        if (place.value.trim()) tell("Enter or Mark it keeps it; arrow keys move it.");
        else { tell("Now give it a name; Enter keeps it."); place.focus({ preventScroll: true }); }
      });
      one.addEventListener("keydown", function (event) {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
        if (!way) return;
        event.preventDefault();
        const step = event.shiftKey ? 5 : 0.5, start = fields.map(function (one) { return one.value === "" ? NaN : Number(one.value); });
        const known = start.every(Number.isFinite);
        put(known ? start[0] + step * way[0] : 50, known ? start[1] + step * way[1] : 50);
        tell("From the left " + fields[0].value + " %, from the top " + fields[1].value + " %. Enter keeps it.");
      });
    });
    // Enter in the name keeps the ring: without this the browser would press the picture's upper left corner
    place.addEventListener("keydown", function (event) {
      if (event.key === "Enter") { event.preventDefault(); keep(); }
    });
  }
  const send = document.getElementById("send"), pick = document.getElementById("pick");
  if (send && pick) {
    const refused = document.getElementById("refused"), sending = document.getElementById("sending");
    const most = 25 * 1024 * 1024;
    send.addEventListener("submit", function (event) {
      const files = Array.from(pick.files);
      if (files.length < 2) return;  // the plain form does
      event.preventDefault();
      const button = send.querySelector("button");
      button.disabled = true;
      const said = [];
      const one = function (n) {
        if (n === files.length) { done(); return; }
        if (files[n].size > most) { said.push(files[n].name + ": this file is larger than 25 MB; let the phone send a smaller picture."); one(n + 1); return; }
        sending.textContent = "Sending " + (n + 1) + " of " + files.length + ": " + files[n].name;
        const body = new FormData(send);
        body.delete("photos");
        body.append("photos", files[n], files[n].name);
        fetch(send.action, { method: "POST", body: body }).then(function (answer) {
          return answer.text().then(function (text) {
            if (answer.ok) return;
            const told = new DOMParser().parseFromString(text, "text/html").querySelector("#refused p");
            said.push(told ? told.textContent : files[n].name + ": " + text.slice(0, 200));
          });
        }).then(function () { one(n + 1); }, function () {
          sending.textContent = files[n].name + " could not be sent. Nothing is lost: press Add to send them again.";
          button.disabled = false;
        });
      };
      const done = function () {
        if (!said.length) { location.assign(send.action); return; }
        button.disabled = false;
        pick.value = "";
        sending.textContent = "";
        const box = document.createElement("div");
        box.className = "question";
        box.setAttribute("role", "alert");
        said.concat("Pictures that are not named here are kept.").forEach(function (line) {
          const p = document.createElement("p");
          p.textContent = line;
          box.append(p);
        });
        const link = document.createElement("a");
        link.className = "button";
        link.href = send.action;
        link.textContent = "Show the pictures";
        box.append(link);
        refused.replaceChildren(box);
        box.scrollIntoView({ block: "nearest" });
      };
      one(0);
    });
  }
})();
