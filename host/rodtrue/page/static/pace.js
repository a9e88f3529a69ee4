// The pace mark: how fast the pin goes, and a mark that goes at the pace wanted, to be followed by hand.
"use strict";
window.rodtruePace = (() => {
  const MM_PER_INCH = 25.4;
  const MOVING_MM_PER_S = 1, ROOM = 1.12;  // slower is held; the lanes reach a little past the usual opening
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const byId = (id) => document.getElementById(id);

  function put(id, text) {
    const element = byId(id);
    if (element.textContent !== text) element.textContent = text;
  }

  // Where the mark is, as a share of the opening: out and back at an even pace, once the pin has left its stop.
  function wanted(pace) {
    if (pace.out === null) return 0;
    const way = pace.out / pace.half;
    return way < 1 ? way : Math.max(0, 2 - way);
  }

  function speed(value, inches) {
    const trade = `${(value / MM_PER_INCH).toFixed(2)} in/s`, si = `${value.toFixed(0)} mm/s`;
    return inches ? `${trade} (${si})` : `${si} (${trade})`;
  }

  function words(pace, mm, inches) {
    const now = Math.abs(pace.speed);
    if (now < MOVING_MM_PER_S) return mm > MOVING_MM_PER_S ? "■ held open" : "■ at rest";
    const way = pace.speed > 0 ? "▶ opening" : "◀ closing";
    return `${now > pace.most ? "▲ TOO FAST, " : ""}${way} ${speed(now, inches)}`;
  }

  function move(id, share) {
    byId(id).style.left = `${(100 * Math.min(Math.max(share / ROOM, 0), 1)).toFixed(2)}%`;
  }

  function show(pace, mm, inches) {
    const whole = byId("rt-pace");
    if (!whole) return;
    whole.hidden = !pace;
    if (!pace) return;
    whole.dataset.calm = calm.matches ? "yes" : "no";
    put("rt-pace-word", words(pace, mm, inches));
    put("rt-pace-plan", calm.matches
      ? `${pace.half} seconds to open, ${pace.half} to close, evenly.`
      : `Keep the pin beside the pace mark: ${pace.half} seconds to open, ${pace.half} to close.`);
    move("rt-pace-pin", mm / pace.top);
    if (!calm.matches) move("rt-pace-guide", wanted(pace));
  }

  return { show };
})();
