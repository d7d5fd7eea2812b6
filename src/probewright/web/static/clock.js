// Counts from the figures of the page: the clock of a bench with a heatsink off, and its beeps.
// The server decides; what it says of power and heat is asked for every few seconds, as another device may have told it.
"use strict";
(function () {
  const LAST = 30, ASK = 5000, TICK = 250; // s before the end that are hatched; ms between questions, and between looks
  const ROUNDED = 1500; // ms: the server counts in whole seconds
  const BEEPS = [[60, 1, "Last minute"], [30, 2, "Last 30 seconds"], [10, 3, "Last 10 seconds"]]; // s left, beeps, words
  const HIGH = 880, BEEP = 0.12, GAP = 0.25; // Hz, s, s: heard over a fan, and told from a key
  const KEY = "sound of the power clock";
  const WORDS = { ready: "Power may come on", over: "Switch off now" };
  function keep(yes) { try { if (yes) localStorage.setItem(KEY, "yes"); else localStorage.removeItem(KEY); } catch { /* not kept */ } }
  function wanted() { try { return localStorage.getItem(KEY) === "yes"; } catch { return false; } }
  document.documentElement.classList.add("clocked");

  let clock = null, ahead = -Infinity, state = "", said = 0;
  const now = function () { return Date.now() + ahead; };
  const ms = function (name) { return clock.dataset[name] ? Number(clock.dataset[name]) : null; };

  function counted(seconds) {
    const whole = Math.max(Math.floor(seconds), 0);
    return Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0");
  }
  // the clock of the page is another one after every answer: read it anew
  function read() {
    const there = document.getElementById("clock");
    if (there === clock) return;
    clock = there;
    if (!clock) { hush(); return; }
    ahead = Math.max(ahead, ms("at") - Date.now()); // an answer that came late says too little of the server's time
    state = clock.dataset.state; said = Infinity;
    show("sound");
    sound();
  }
  function show(id) { const one = document.getElementById(id); if (one) one.hidden = false; }

  function tick() {
    read();
    if (!clock) return;
    const until = ms("until"), since = ms("since");
    if (until !== null && (state === "running" || state === "cooling")) {
      const left = (until - now()) / 1000;
      if (left <= 0) turn(state === "running" ? "over" : "ready");
      else {
        figure(left, left / Math.max((until - (since === null ? now() : since)) / 1000, 1));
        if (state === "running") tell(left);
      }
    } else if (since !== null && clock.dataset.on && state !== "over") figure((now() - since) / 1000, 0);
    document.getElementById("bench")?.classList.toggle("stopping", must());
    if (must()) hold();
  }
  function must() {
    const stops = document.getElementById("offnow");
    return Boolean(stops) && Boolean(stops.dataset.now || state === "over" || (state === "unknown" && clock.dataset.on));
  }
  function figure(seconds, share) {
    write(".figure", counted(seconds));
    blocks(Math.ceil(12 * share));
  }
  function blocks(full) {
    clock.querySelectorAll("rect").forEach(function (one, n) { one.classList.toggle("full", n < full); });
  }
  function write(which, text) {
    const there = clock.querySelector(which);
    if (there && there.textContent !== text) there.textContent = text;
  }
  // at 60, 30 and 10 s: what the beeps say stands on the page and is read out
  function tell(left) {
    clock.classList.toggle("last", left <= LAST);
    const due = BEEPS.filter(function (one) { return left <= one[0]; }).pop();
    if (!due) return;
    write(".sign", due[2]);
    if (due[0] < said) { said = due[0]; announce(due[2] + ". " + clock.dataset.after); }
  }
  function announce(text) { const there = document.getElementById("clock-said"); if (there) there.textContent = text; }
  function turn(to) {
    clock.classList.remove(state, "last"); clock.classList.add(to);
    state = to;
    const then = clock.dataset.then;
    write(".sign", WORDS[to]); write(".says", clock.dataset.after);
    write(".figure", to === "over" || !then ? "0:00" : counted(Number(then)));
    blocks(to === "over" ? 0 : 12);
    announce(WORDS[to] + ". " + clock.dataset.after);
    ask();
  }
  // nobody's Enter may say "Power is off" by chance: the focus goes to the words, not to the button
  function hold() {
    const line = document.getElementById("line");
    if (line && document.activeElement === line) document.querySelector("#offnow h2").focus();
  }

  // another device, a page that was left open, a computer that slept
  let asking = false;
  function ask() {
    if (!clock || asking) return;
    asking = true;
    fetch(clock.dataset.from).then(function (answer) { return answer.status === 200 ? answer.text() : null; }).then(function (text) {
      if (text === null || !clock) return; // not worked out yet
      const there = new DOMParser().parseFromString(text, "text/html").getElementById("clock");
      if (!there) { anew(); return; } // every heatsink is on again
      const moved = there.dataset.mark !== clock.dataset.mark;
      ahead = Math.max(ahead, Number(there.dataset.at) - Date.now());
      if (moved && must() && !there.dataset.on) { anew(); return; }
      if (moved || there.dataset.state !== state || Math.abs(there.dataset.until - clock.dataset.until) > ROUNDED) {
        clock.replaceWith(document.importNode(there, true));
        tick();
      }
    }).catch(function () { /* what the page knows still counts */ }).finally(function () { asking = false; });
  }
  function anew() { location.href = clock.dataset.from.replace(/\/clock$/, ""); } // what was typed is kept
  document.addEventListener("put", tick); // the answer that came brought another clock
  document.addEventListener("visibilitychange", function () { if (!document.hidden) { tick(); ask(); } });
  window.addEventListener("pageshow", function (event) { if (event.persisted) { tick(); ask(); } });

  // Sound: one tap, remembered. Beeps are given to the browser ahead, so that they come though the page is not looked at.
  let player = null, playing = [];
  function hush() { playing.forEach(function (one) { try { one.stop(); } catch { /* has ended */ } }); playing = []; }
  function beep(at, lasts) {
    const tone = player.createOscillator(), loud = player.createGain();
    tone.frequency.value = HIGH; loud.gain.value = 0.2;
    tone.connect(loud); loud.connect(player.destination);
    tone.start(at);
    if (lasts) tone.stop(at + lasts);
    playing.push(tone);
  }
  function sound() {
    hush();
    const button = document.getElementById("sound");
    const on = wanted();
    if (on && !player && window.AudioContext) {
      player = new AudioContext();
      player.onstatechange = sound; // it may not sound before the page was touched once
    }
    const mute = on && (!player || player.state !== "running");
    if (button) {
      button.setAttribute("aria-pressed", String(on));
      button.textContent = !on ? "Sound off" : mute ? "Sound: tap once" : "Sound on";
    }
    if (!on || mute || !clock) return;
    const until = ms("until"), begin = player.currentTime;
    if (must()) beep(begin, 0);
    else if (state === "running" && until !== null) {
      const left = (until - now()) / 1000;
      BEEPS.filter(function (one) { return one[0] <= left; }).forEach(function (one) {
        for (let n = 0; n < one[1]; n++) beep(begin + left - one[0] + n * GAP, BEEP);
      });
      beep(begin + left, 0);
    }
  }
  document.addEventListener("click", function (event) {
    if (event.target.closest("#sound")) {
      const again = wanted() && player && player.state !== "running"; // this tap lets it sound
      keep(again || !wanted());
    }
    if (wanted() && player && player.state === "suspended") player.resume();
    if (event.target.closest("#sound")) sound();
  });
  document.addEventListener("keydown", function () { if (wanted() && player && player.state === "suspended") player.resume(); });

  tick();
  setInterval(tick, TICK);
  setInterval(ask, ASK);
  ask();
})();
