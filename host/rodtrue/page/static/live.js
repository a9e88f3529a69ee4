// The live picture: takes what the program sends, keeps the points, draws at most once a frame.
"use strict";
(() => {
  const MM_PER_INCH = 25.4, KPA_PER_PSI = 6.894757293168361;
  const BAND = "Ramp begins in the hatched band: rod right. Left of it: rod long, pressure too early. "
    + "Right of it: rod short, pressure too late.";
  const store = { series: -1, xy: [], now: {}, scene: {}, dirty: true, live: false };
  const drawn = [];                       // [device time of the newest point, time of the frame], for measuring
  let keepDrawn = false;

  const inches = () => store.scene.units !== "metric";
  function place(value, digits) {
    if (value === null || value === undefined) return "–";
    const text = value.toFixed(digits);
    return Number(text) === 0 ? text.replace("-", "") : text;
  }
  const byId = (id) => document.getElementById(id);

  function pair(value, factor, unit, digits, siUnit, siDigits) {
    const trade = `${place(value === null || value === undefined ? value : value / factor, digits)} ${unit}`;
    const si = `${place(value, siDigits)} ${siUnit}`;
    return inches() ? [trade, si] : [si, trade];
  }

  function put(id, text) {
    const element = byId(id);
    if (element && element.textContent !== text) element.textContent = text;
  }

  function showNumbers() {
    const now = store.now;
    const [travel, travelToo] = pair(now.mm, MM_PER_INCH, "in", 3, "mm", 2);
    const [pressure, pressureToo] = pair(now.kpa, KPA_PER_PSI, "psi", 1, "kPa", 1);
    put("rt-travel", travel);
    put("rt-travel-too", travelToo);
    put("rt-travel-name", now.zero ? "Travel" : "Travel, no zero yet");
    put("rt-pressure", pressure);
    put("rt-pressure-too", pressureToo);
    put("rt-hint", store.scene.fit ? "" : now.hint || "");
    put("rt-band", store.scene.zone ? BAND : "");
    window.rodtruePace.show(now.pace || null, now.mm, inches());
  }

  function take(message) {
    if (message.scene) {
      store.scene = message.scene;
    } else {
      if (message.series !== store.series) { store.series = message.series; store.xy = []; }
      store.xy.length = 2 * message.from;
      for (const value of message.xy) store.xy.push(value);
      store.now = message;
    }
    store.dirty = true;
  }

  function connect() {
    const socket = new WebSocket(`ws://${location.host}/live`);
    socket.onmessage = (event) => {
      take(JSON.parse(event.data));
      store.live = true;
      socket.send("seen");               // the program never sends far ahead of what has been taken
    };
    socket.onclose = () => {
      store.live = false;
      store.dirty = true;
      setTimeout(connect, 500);
    };
  }

  function frame() {
    requestAnimationFrame(frame);
    const canvas = byId("rt-plot");
    if (!canvas || !(store.dirty || window.rodtruePlot.mustRedraw(canvas))) return;
    store.dirty = false;
    showNumbers();
    window.rodtruePlot.draw(canvas, store);
    document.documentElement.dataset.live = store.live ? "yes" : "no";
    if (keepDrawn && store.now.t !== undefined) drawn.push([store.now.t, performance.timeOrigin + performance.now()]);
  }

  window.rodtrueLive = {
    store,
    measure() { keepDrawn = true; drawn.length = 0; },
    measured: () => drawn.splice(0),
  };
  connect();
  requestAnimationFrame(frame);
})();
