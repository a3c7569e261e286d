// Shows what the watch sends, counts ages on, and says when nothing comes any more. Which way, how
// far, real or test: all of it is worked out and worded by the watch. Nothing here decides anything.
"use strict";
(() => {
  // Nothing for so long, and what is shown may not hold any more. The style alone does the same.
  const SILENT_S = 5;
  // Between two attempts to reach the watch.
  const RETRY_S = 3;
  // Pitch in hertz (0 is silence) and seconds: as the watch itself sounds.
  const TONES = {
    emergency_alarm: [[1000, .5], [1500, .5], [1000, .5], [1500, .5], [1000, .5], [1500, .5], [1000, .5], [1500, .5]],
    alarm: [[2000, .25], [0, .15], [2000, .25], [0, .15], [2000, .25]],
    warning: [[600, .3], [0, .2], [600, .3]],
    ready: [[1000, .15]],
  };
  // The same sounds again after so many seconds.
  const AGAIN_S = { emergency_alarm: 4, alarm: 8, warning: 60 };
  const COLOURS = { dusk: ["dark", "#10141a"], night: ["dark", "#000000"], day: ["light", "#f4f4ee"] };

  const root = document.documentElement;
  const [main, next, soundButton, coloursButton, acknowledge, silence, said, aloud] =
    ["main", "next", "sound", "colours", "acknowledge", "silence", "said", "aloud"].map(id => document.getElementById(id));

  // A moment by both clocks: one of them stands while the phone sleeps, the other may be set.
  const moment = () => [performance.now(), Date.now()];
  const since = then => Math.max(performance.now() - then[0], Date.now() - then[1]) / 1000;

  // The same words as the watch's own: rounded up, in one unit.
  const ageWords = seconds => {
    const whole = Math.ceil(seconds);
    if (whole < 120) return `${whole} s`;
    return whole <= 7200 ? `${Math.ceil(seconds / 60)} min` : `${Math.ceil(seconds / 3600)} h`;
  };
  const leftWords = seconds => {
    const whole = Math.max(0, Math.floor(seconds));
    return whole < 90 ? `${whole} s` : `${Math.floor((whole + 30) / 60)} min`;
  };

  let source = null;
  let tried = moment();
  let heard = moment();
  let chosen = null;
  const looked = new Set();
  let told = "";

  const shown = () => main.firstElementChild;
  const sections = () => [...main.querySelectorAll("section.casualty")];

  // Makes an element like another, in place: what has not changed stays, with its focus.
  const renew = (old, fresh) => {
    for (const { name } of [...old.attributes]) {
      if (!fresh.hasAttribute(name)) old.removeAttribute(name);
    }
    for (const { name, value } of fresh.attributes) {
      if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    }
    const [had, has] = [[...old.childNodes], [...fresh.childNodes]];
    has.forEach((child, place) => {
      const before = had[place];
      const alike = before && before.nodeName === child.nodeName && before.id === child.id;
      if (!alike) before ? before.replaceWith(child) : old.append(child);
      else if (child.nodeType === Node.ELEMENT_NODE) renew(before, child);
      else if (before.data !== child.data) before.data = child.data;
    });
    had.slice(has.length).forEach(child => child.remove());
  };

  const show = html => {
    const page = document.createElement("template");
    page.innerHTML = html;
    const fresh = page.content.firstElementChild;
    // Another version of the program is another page.
    if (fresh.dataset.version !== shown().dataset.version) return location.reload();
    // Another name of the same animation: what covers the page waits for another 5 s.
    fresh.dataset.turn = shown().dataset.turn === "b" ? "a" : "b";
    renew(shown(), fresh);
    choose();
    heard = moment();
    tick();
    speak();
  };

  // The one that is looked at stays, whoever else comes; else the one that the watch has in view.
  const choose = () => {
    const all = sections();
    const is = id => all.some(it => it.id === id);
    if (!is(chosen)) chosen = (all.find(it => it.classList.contains("chosen")) || {}).id || null;
    if (chosen) looked.add(chosen);
    for (const id of looked) if (!is(id)) looked.delete(id);
    all.forEach(it => it.classList.toggle("chosen", it.id === chosen));
    const unseen = all.find(it => !looked.has(it.id));
    next.hidden = all.length < 2;
    next.classList.toggle("new", Boolean(unseen));
    const place = all.findIndex(it => it.id === chosen) + 1;
    next.textContent = unseen ? `NEW: ${unseen.dataset.who}` : `next (${place} of ${all.length})`;
    ask();
  };

  // What may be acknowledged here: what the chosen one asks for, else what the watch itself does.
  let asking = moment();
  const ask = () => {
    const asks = main.querySelector("section.chosen .asks") || main.querySelector("#shown > .asks, #shown > .band .asks");
    for (const button of [acknowledge, silence]) {
      const form = asks && asks.querySelector(`form[action="/${button.id}"]`);
      button.hidden = !form;
      if (form && button.value !== form.elements.alert.value) {
        button.value = form.elements.alert.value;
        asking = moment();
      }
    }
  };
  const answer = event => {
    // What has just changed under the finger is not what was meant.
    if (since(asking) < .7) return;
    const [button, body] = [event.currentTarget, new URLSearchParams({ alert: event.currentTarget.value })];
    fetch(`/${button.id}`, { method: "POST", body })
      .then(answer => { said.textContent = answer.ok ? "" : "The watch did not take it."; })
      .catch(() => { said.textContent = "The watch was not reached."; });
  };

  const go = id => {
    chosen = id;
    main.scrollTop = 0;
    choose();
    speak();
  };

  const step = by => {
    const all = sections();
    if (all.length < 2) return;
    const unseen = all.find(it => !looked.has(it.id));
    const place = all.findIndex(it => it.id === chosen);
    go((by > 0 && unseen || all[(place + by + all.length) % all.length]).id);
  };

  // For who does not look: who it is and which way, when that has changed, not with every figure.
  const speak = () => {
    const section = main.querySelector("section.chosen");
    if (!section) return;
    const turn = section.querySelector(".turn");
    const now = section.dataset.name + (turn ? `. ${turn.textContent}` : "");
    const sense = now.replace(/[0-9]+ ?(°T?|s|min|h|m|NM)\b/g, "") + next.textContent.replace(/\(.*/, "");
    if (sense === told) return;
    told = sense;
    aloud.textContent = next.classList.contains("new") ? `${next.textContent}. ${now}` : now;
  };

  const tick = () => {
    const span = since(heard);
    root.classList.toggle("lost", span >= SILENT_S);
    for (const it of main.querySelectorAll("[data-age]")) it.textContent = ageWords(Number(it.dataset.age) + span);
    for (const it of main.querySelectorAll("[data-left]")) it.textContent = leftWords(Number(it.dataset.left) - span);
    if (span >= SILENT_S && since(tried) >= RETRY_S) connect();
    sound();
  };

  // How far a state is behind, at the least, by two clocks that need not agree. One that is further behind
  // has waited in a phone that slept: it is old, and so is all that waits behind it.
  let behind = Infinity;
  const take = state => {
    const now = Date.now() - state.handed_ms;
    behind = Math.min(behind, now);
    if (now - behind < SILENT_S * 1000) show(state.html);
    else if (since(tried) >= RETRY_S) connect();
  };

  const connect = () => {
    tried = moment();
    if (source) source.close();
    source = new EventSource("/events?only=state");
    source.onopen = () => { behind = Infinity; };
    source.addEventListener("state", event => take(JSON.parse(event.data)));
    source.onerror = () => { if (source.readyState === EventSource.CLOSED) refused(); };
  };

  // The watch answers, and refuses: whoever looks has to give the code again.
  const refused = () => fetch("/state.json", { cache: "no-store" })
    .then(answer => { if ([401, 403].includes(answer.status)) location.reload(); })
    .catch(() => {});

  // After sleep, or when the network is back: first of all the present state.
  const back = () => {
    if (document.hidden) return;
    tick();
    if (since(heard) > 2) connect();
    awake();
  };

  // Sound, vibration and a screen that stays on: only after a touch, because browsers want one.
  let audio = null;
  let sounded = ["", moment()];
  const play = name => {
    const tones = TONES[name];
    let at = audio.currentTime + .02;
    for (const [pitch, seconds] of tones) {
      if (pitch) {
        const [tone, gain] = [audio.createOscillator(), audio.createGain()];
        tone.frequency.value = pitch;
        gain.gain.setValueAtTime(0, at);
        gain.gain.linearRampToValueAtTime(.9, at + .008);
        gain.gain.setValueAtTime(.9, at + seconds - .008);
        gain.gain.linearRampToValueAtTime(0, at + seconds);
        tone.connect(gain).connect(audio.destination);
        tone.start(at);
        tone.stop(at + seconds);
      }
      at += seconds;
    }
    if (navigator.vibrate) navigator.vibrate(tones.map(([, seconds]) => seconds * 1000));
  };
  const sound = () => {
    const on = audio && audio.state === "running";
    const words = on ? "SOUND IS ON" : audio ? "SOUND IS OFF: touch" : "SOUND IS OFF";
    if (soundButton.textContent !== words) soundButton.textContent = words;
    soundButton.setAttribute("aria-pressed", String(Boolean(on)));
    if (!on) return;
    const name = root.classList.contains("lost") ? "alarm" : shown().dataset.sound;
    if (name && (name !== sounded[0] || since(sounded[1]) >= AGAIN_S[name])) {
      play(name);
      sounded[1] = moment();
    }
    sounded[0] = name;
  };
  const awake = async () => {
    if (!audio || document.hidden) return "";
    if (!navigator.wakeLock) {
      const why = window.isSecureContext ? "this browser cannot keep it on" : "over plain HTTP the browser may not keep it on";
      return `The screen may go dark: ${why}. Set the phone to leave it on.`;
    }
    try {
      await navigator.wakeLock.request("screen");
      return "The screen stays on.";
    } catch {
      return "The screen may go dark: the phone does not let it stay on.";
    }
  };
  soundButton.addEventListener("click", async () => {
    if (audio && audio.state === "running") {
      await audio.close();
      audio = null;
      said.textContent = "Sound is off.";
      return tick();
    }
    if (!window.AudioContext) return said.textContent = "This browser cannot sound.";
    audio = audio || new AudioContext();
    await audio.resume();
    play("ready");
    const vibrates = navigator.vibrate ? "It vibrates, too." : "This browser does not vibrate.";
    said.textContent = `Sound is on. ${vibrates} ${await awake()}`;
    tick();
  });

  coloursButton.addEventListener("click", () => {
    const names = Object.keys(COLOURS);
    const name = names[(names.indexOf(root.dataset.colours) + 1) % names.length];
    const [scheme, ground] = COLOURS[name];
    root.dataset.colours = coloursButton.textContent = name;
    document.querySelector("meta[name=color-scheme]").content = scheme;
    document.querySelector("meta[name=theme-color]").content = ground;
    document.cookie = `colours=${name}; SameSite=Strict; Path=/; Max-Age=31536000`;
  });

  next.addEventListener("click", () => step(1));
  main.addEventListener("click", event => {
    const other = event.target.closest("a.other");
    if (!other) return;
    event.preventDefault();
    go(other.hash.slice(1));
  });
  let from = null;
  main.addEventListener("touchstart", event => {
    from = event.touches.length === 1 ? event.touches[0] : null;
  }, { passive: true });
  main.addEventListener("touchend", event => {
    if (!from) return;
    const [across, down] = [event.changedTouches[0].clientX - from.clientX, event.changedTouches[0].clientY - from.clientY];
    if (Math.abs(across) > 60 && Math.abs(across) > 2 * Math.abs(down)) step(across < 0 ? 1 : -1);
    from = null;
  }, { passive: true });
  acknowledge.addEventListener("click", answer);
  silence.addEventListener("click", answer);

  document.addEventListener("visibilitychange", back);
  addEventListener("pageshow", back);
  addEventListener("online", back);
  root.classList.add("scripted");
  soundButton.hidden = coloursButton.hidden = false;
  coloursButton.textContent = root.dataset.colours;
  choose();
  setInterval(tick, 250);
  connect();
})();
