// The timers of the kitchen sheet. Nothing is counted down: every timer is the wall clock
// against a kept moment, so it is right after the screen was off, after a reload and after
// the browser was closed. A clock that was changed never ends a timer: it starts again.
// What happens is a list of moments, kept on the phone and sent when there is a network.
const sheet = document.getElementById("kitchen");
const minute = 60_000;
const hour = 60 * minute;
const length = { vent: sheet.dataset.vent * minute, process: sheet.dataset.minutes * minute, rest: sheet.dataset.rest * minute };
const home = { vent: "vent", vented: "vent", process: "process", lost: "process", up: "process", falling: "rest", rest: "rest", rested: "rest", cool: "cool" };
const pressure = sheet.dataset.method === "pressure";
const place = `kitchen-${sheet.dataset.batch}`;
const slack = 5_000; // by which two phones' clocks may differ
const most = 200; // moments that the server takes at once

// What is kept: the moments, which of them are unsent, refused or from before the clock was
// changed, the ticks, which timer the changed clock stopped, and by how much the phone's
// clock differs from the server's since the timer began.
let memory = { moments: [], unsent: [], refused: [], past: [], ticks: [], changed: "", apart: null };

function read() {
  try {
    memory = JSON.parse(localStorage.getItem(place)) ?? memory;
  } catch {
    // The browser keeps nothing: what is in memory has to do.
  }
  return structuredClone(memory);
}

function keep(state) {
  memory = state;
  try {
    localStorage.setItem(place, JSON.stringify(state));
  } catch {
    tell("This browser keeps nothing. Write the times down as well.");
  }
}

// stamp writes a moment as RFC 3339 does, with the phone's own offset.
function stamp(moment) {
  const d = new Date(moment);
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const east = -d.getTimezoneOffset();
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}T${two(d.getHours())}:${two(d.getMinutes())}:${two(d.getSeconds())}` +
    `.${String(d.getMilliseconds()).padStart(3, "0")}${east < 0 ? "-" : "+"}${two(east / 60)}:${two(Math.abs(east) % 60)}`;
}

// where tells from the moments in their order which step the batch is at, and since when.
function where(state) {
  const moments = state.moments.filter((m) => !state.past.includes(m.id)).map((m) => ({ what: m.what, at: Date.parse(m.at) })).sort((a, b) => a.at - b.at);
  let now = { at: "before", since: 0, off: 0 };
  for (const { what, at } of moments) {
    const whole = now.at !== "process" || at - now.since >= length.process;
    switch (what) {
      case "new-load": now = { at: "before", since: at, off: 0 }; break;
      case "vent-began": now = { at: "vent", since: at, off: 0 }; break;
      case "boil-reached": case "pressure-reached": case "again": now = { at: "process", since: at, off: 0 }; break;
      case "lost": case "clock-changed": if (now.at === "process") now = { at: "lost", since: at, off: 0 }; break;
      case "heat-off":
        // Before the time is up that is a boil that stopped.
        if (now.at !== "lost") now = whole ? { at: pressure ? "falling" : "rest", since: at, off: at } : { at: "lost", since: at, off: 0 };
        break;
      case "weight-off": if (now.at !== "lost" && now.at !== "process") now = { at: "rest", since: at, off: now.off || at }; break;
      case "jars-out": if (now.at !== "lost" && now.at !== "process") now = { at: "cool", since: at, off: now.off || at }; break;
    }
  }
  if (state.changed) return { ...now, at: `clock-${state.changed}` };
  if (!running(now.at)) return now;
  const left = now.since + length[now.at] - Date.now();
  return left > 0 ? { ...now, left } : { ...now, at: { vent: "vented", process: "up", rest: "rested" }[now.at], over: now.at };
}

const running = (at) => length[at] !== undefined;

// add keeps that something happened, at a moment or now.
function add(what, moment = Date.now()) {
  const state = read();
  // Where the page came without encryption the browser makes no UUID.
  const id = crypto.randomUUID?.() ?? Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  if (what === "clock-changed" || state.changed) state.past = state.moments.map((m) => m.id);
  if (what !== "clock-changed") state.changed = "";
  if (what !== "time-up") state.apart = null;
  if (what === "new-load") state.ticks = [];
  state.moments.push({ id, what, at: stamp(moment) });
  state.unsent.push(id);
  keep(state);
}

// stop ends a timer whose clock cannot be trusted. Only a start begins it again.
function stop(timer) {
  add("clock-changed");
  const state = read();
  state.past = state.moments.map((m) => m.id);
  state.changed = timer;
  keep(state);
}

// merge takes in the moments that the server has, from another phone or from before.
function merge(text) {
  const state = read();
  const known = new Set(state.moments.map((m) => m.id));
  const fresh = JSON.parse(text).filter((m) => !known.has(m.id));
  if (fresh.length === 0) return;
  state.moments.push(...fresh);
  keep(state);
}

// sync sends what is unsent, and compares the clocks while a timer runs.
let sending = false;
let asked = false; // meanwhile: the one on its way may still fail of the network that was lost
async function sync() {
  const before = read();
  const batch = before.unsent.slice(0, most);
  asked = sending;
  if (sending || batch.length === 0 && !running(where(before).at)) return;
  sending = true;
  let more = false;
  try {
    const reply = await fetch(location.pathname.replace(/kitchen$/, "times"), {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(before.moments.filter((m) => batch.includes(m.id))),
    });
    const state = read();
    if (reply.status === 200) {
      const { kept } = await reply.json();
      state.unsent = state.unsent.filter((id) => !kept.includes(id));
      more = kept.length > 0 && state.unsent.length > 0;
      keep(state);
      compare(Date.parse(reply.headers.get("Date")));
      tell("");
    } else if (reply.status === 422) {
      const { which } = await reply.json();
      if (which?.length) {
        state.unsent = state.unsent.filter((id) => !which.includes(id));
        state.refused.push(...which);
        keep(state);
        more = state.unsent.length > 0;
      }
      tell("Some times could not be taken: is the phone’s date right? Write them down and type them in the record.");
    } else if (reply.status === 404) {
      tell("The times wait on this phone: you are logged out here. Log in again to send them.");
    }
  } catch {
    // No network: they wait.
  } finally {
    sending = false;
  }
  show();
  if (more || asked) sync();
}

// compare finds a clock that was set while a timer ran, or has ended it: it then differs
// from the server's by another amount than before.
function compare(server) {
  const state = read();
  const now = where(state);
  const timer = now.over ?? now.at;
  if (!running(timer) || Number.isNaN(server)) return;
  const apart = Date.now() - server;
  if (state.apart === null) {
    keep({ ...state, apart });
  } else if (Math.abs(apart - state.apart) > 2 * slack) {
    stop(timer);
  }
}

// fresh asks for the page again: the browser then keeps it for when there is no network,
// and the times that another phone has sent come with it.
async function fresh() {
  try {
    const reply = await fetch(location.pathname);
    if (reply.status !== 200) return;
    const page = new DOMParser().parseFromString(await reply.text(), "text/html");
    merge(page.getElementById("kitchen").dataset.times);
    show();
  } catch {
    // No network: the page stays as it is.
  }
}

// keepPage has the page and all it needs kept, also when this is the first visit and the
// page was loaded before anything could keep it.
async function keepPage() {
  const word = sheet.querySelector("[data-kept]");
  if (!navigator.serviceWorker) {
    word.textContent = "This browser cannot keep the page. Leave it open, or print the list.";
    return;
  }
  await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) {
    await new Promise((done) => navigator.serviceWorker.addEventListener("controllerchange", done, { once: true }));
  }
  const parts = [...document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]")].map((e) => e.href ?? e.src);
  await fresh();
  await Promise.all(parts.map((address) => fetch(address).catch(() => {})));
  word.textContent = "Kept on this phone. It works without a network.";
}

// The ring: a tone made here, a buzz where there is one, and a page that looks different.
let audio = null;
let ringing = "";
let rungAt = 0;
let silenced = "";

function wake() {
  audio ??= new AudioContext();
  return audio.resume();
}

function ring() {
  navigator.vibrate?.([500, 200, 500]);
  if (audio?.state !== "running") return;
  for (const [n, pitch] of [880, 1175, 880].entries()) {
    const tone = audio.createOscillator();
    const loud = audio.createGain();
    const from = audio.currentTime + n * 0.3;
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0.0001, from);
    loud.gain.exponentialRampToValueAtTime(0.5, from + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, from + 0.28);
    tone.connect(loud).connect(audio.destination);
    tone.start(from);
    tone.stop(from + 0.3);
  }
}

// The screen stays on while a timer runs, if the browser can do that. The browser lets go
// of it when the page goes out of sight.
let lock = null;
let asking = false;
async function light(on) {
  if (!on) {
    lock?.release();
    lock = null;
  } else if (!lock && !asking && document.visibilityState === "visible" && navigator.wakeLock) {
    asking = true;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      // A low battery, or nobody allows it: the timer is right all the same.
    } finally {
      asking = false;
    }
  }
}

function tell(text) {
  const line = sheet.querySelector("[data-amiss]");
  line.textContent = text;
  line.hidden = text === "";
}

const atClock = (moment) => new Date(moment).toLocaleTimeString("en-US", { hour: "numeric", minute: "2-digit" });
const onDay = (moment) => new Date(moment).toLocaleString("en-US", { weekday: "long", day: "numeric", month: "long", hour: "numeric", minute: "2-digit" });

const title = document.title;
let shown = "";

// show draws what is so now.
function show() {
  const state = read();
  const now = where(state);
  if (now.at !== shown) {
    for (const part of sheet.querySelectorAll("[data-in]")) part.hidden = !part.dataset.in.split(" ").includes(now.at);
    shown = now.at;
  }
  if (running(now.at)) {
    // The last second counts in full: 0:00 is never shown before its time.
    const seconds = Math.ceil(now.left / 1000);
    sheet.querySelector(`[data-clock="${now.at}"]`).textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    sheet.querySelector(`[data-in="${now.at}"] [data-ends]`).textContent = atClock(now.since + length[now.at]);
  }
  if (now.at === "cool") {
    sheet.querySelector("[data-seals]").textContent = onDay(now.since + sheet.dataset.coolHours * hour);
    sheet.querySelector("[data-reprocess]").textContent = onDay(now.off + sheet.dataset.reprocessHours * hour);
  }
  const ends = now.over ? `${now.over} ${now.since}` : "";
  ringing = ends === silenced ? "" : ends;
  sheet.classList.toggle("ringing", ringing !== "");
  document.title = ringing ? `Time is up · ${title}` : running(now.at) ? `${Math.ceil(now.left / minute)} min · ${title}` : title;
  for (const button of sheet.querySelectorAll("[data-silence]")) button.hidden = !ringing;
  sheet.querySelector("[data-mute]").hidden = !running(now.at) || audio?.state === "running";
  light(running(now.at));
  for (const tick of sheet.querySelectorAll("[data-tick]")) tick.checked = state.ticks.includes(tick.dataset.tick);
}

// beat looks at the clock: is a timer over, was the clock changed? A clock that was set
// while the page is in sight parts from the browser's own steady count. Out of sight the
// browser may have slept, and then the wall clock is the right one.
let last = null;
function beat() {
  const now = where(read());
  const clocks = { wall: Date.now(), steady: performance.now() };
  const jump = last ? clocks.wall - last.wall - (clocks.steady - last.steady) : 0;
  // A clock set far ahead has ended the timer by now: what ran before it counts.
  const ran = Math.abs(jump) > 2 * slack ? last.timer : "";
  last = document.visibilityState === "visible" ? { ...clocks, timer: running(now.at) ? now.at : "" } : null;
  if (ran || running(now.at) && clocks.wall < now.since - slack) {
    stop(ran || now.at);
    if (last) last.timer = "";
    sync();
  } else if (now.at === "up" && !read().moments.some((m) => m.what === "time-up" && Date.parse(m.at) === now.since + length.process)) {
    add("time-up", now.since + length.process);
    sync();
  }
  show();
  if (ringing && Date.now() - rungAt > 2_000) {
    rungAt = Date.now();
    ring();
  }
}

// go brings the step in sight that the batch is at.
function go() {
  const at = where(read()).at.replace("clock-", "");
  if (home[at]) document.getElementById(`step-${home[at]}`).scrollIntoView();
}

document.addEventListener("click", wake);
sheet.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.event) {
    add(button.dataset.event);
    last = null; // what ran before has ended
    beat();
    go();
    if (button.dataset.event === "new-load") scrollTo(0, 0);
    sync();
  } else if (button.hasAttribute("data-try")) {
    wake().then(ring);
    sheet.classList.add("ringing");
    setTimeout(show, 1_500);
  } else if (button.hasAttribute("data-silence")) {
    silenced = ringing;
    show();
  }
});

sheet.addEventListener("change", (event) => {
  const tick = event.target.dataset.tick;
  if (!tick) return;
  const state = read();
  state.ticks = state.ticks.filter((t) => t !== tick);
  if (event.target.checked) {
    state.ticks.push(tick);
    event.target.closest(".step").nextElementSibling.scrollIntoView();
  }
  keep(state);
});

addEventListener("storage", show); // another tab
addEventListener("online", () => { sync(); fresh(); });
document.addEventListener("visibilitychange", () => {
  last = null;
  if (document.visibilityState !== "visible") return;
  beat();
  sync();
  fresh();
});

sheet.hidden = false;
merge(sheet.dataset.times);
beat();
if (!location.hash) go();
setInterval(beat, 500);
sync();
keepPage();
