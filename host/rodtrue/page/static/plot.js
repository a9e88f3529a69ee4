// Pressure against travel on a canvas: all sweeps, the newest point, and what the ramp so far hints at.
"use strict";
window.rodtruePlot = (() => {
  const MM_PER_INCH = 25.4, KPA_PER_PSI = 6.894757293168361;
  const LATELY = 60;                      // points of the newest stretch, drawn stronger
  const NICE = [1, 2, 5];
  let lastLook = "";

  const look = () => {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(name).trim();
    return {
      ink: colour("--ink"), soft: colour("--ink-soft"), line: colour("--line"), ground: colour("--sheet"),
      trace: colour("--trace"), accent: colour("--accent"), zone: colour("--zone"),
    };
  };

  function mustRedraw(canvas) {
    const seen = `${canvas.clientWidth}x${canvas.clientHeight}@${devicePixelRatio}/${document.documentElement.dataset.theme}`;
    const changed = seen !== lastLook;
    lastLook = seen;
    return changed;
  }

  function step(span, most) {
    const least = span / most, power = 10 ** Math.floor(Math.log10(least));
    for (const nice of NICE) if (nice * power >= least) return nice * power;
    return 10 * power;
  }

  function reach(store) {
    let left = -2, right = 20, top = 100;
    const xy = store.xy;
    for (let i = 0; i < xy.length; i += 2) {
      if (xy[i] > right) right = xy[i];
      if (xy[i] < left) left = xy[i];
      if (xy[i + 1] > top) top = xy[i + 1];
    }
    for (const fit of store.scene.fit || []) {
      right = Math.max(right, ...fit.x);
      top = Math.max(top, ...fit.y);
    }
    const zone = store.scene.zone;
    if (zone) { left = Math.min(left, zone[0] - 1); right = Math.max(right, zone[1] + 1); }
    return { left, right: right * 1.04, top: top * 1.1 };
  }

  function draw(canvas, store) {
    const width = canvas.clientWidth, height = canvas.clientHeight, ratio = devicePixelRatio || 1;
    if (!width || !height) return;
    if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
    if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const colours = look();
    pen.fillStyle = colours.ground;
    pen.fillRect(0, 0, width, height);
    const small = width < 480;
    pen.font = `${small ? 12 : 14}px system-ui, sans-serif`;
    const box = { x: small ? 38 : 48, y: 26, w: width - (small ? 46 : 62), h: height - (small ? 66 : 70) };
    const bounds = reach(store);
    const toX = (mm) => box.x + ((mm - bounds.left) / (bounds.right - bounds.left)) * box.w;
    const toY = (kpa) => box.y + box.h - (kpa / bounds.top) * box.h;
    drawZone(pen, colours, store, box, toX);
    drawGrid(pen, colours, store, box, bounds, toX, toY, small);
    pen.save();
    pen.beginPath();
    pen.rect(box.x, box.y, box.w, box.h);
    pen.clip();
    drawTrace(pen, colours, store, toX, toY);
    drawLines(pen, colours, store, toX, toY, box);
    pen.restore();
    drawNames(pen, colours, store, box, toX, small);
    drawNewest(pen, colours, store, toX, toY);
  }

  function drawZone(pen, colours, store, box, toX) {
    const zone = store.scene.zone;
    if (!zone) return;
    const from = toX(zone[0]), to = toX(zone[1]);
    pen.save();
    pen.beginPath();
    pen.rect(from, box.y, to - from, box.h);
    pen.clip();
    pen.strokeStyle = colours.zone;
    pen.lineWidth = 1.5;
    for (let x = from - box.h; x < to; x += 7) {
      pen.beginPath();
      pen.moveTo(x, box.y + box.h);
      pen.lineTo(x + box.h, box.y);
      pen.stroke();
    }
    pen.restore();
    pen.strokeStyle = colours.zone;
    pen.lineWidth = 2;
    for (const x of [from, to]) {
      pen.beginPath();
      pen.moveTo(x, box.y);
      pen.lineTo(x, box.y + box.h);
      pen.stroke();
    }
  }

  function drawGrid(pen, colours, store, box, bounds, toX, toY, small) {
    const metric = store.scene.units === "metric";
    const perX = metric ? 1 : MM_PER_INCH, perY = metric ? 1 : KPA_PER_PSI;
    pen.strokeStyle = colours.line;
    pen.fillStyle = colours.soft;
    pen.lineWidth = 1;
    const stepX = step((bounds.right - bounds.left) / perX, small ? 5 : 9);
    pen.textAlign = "center";
    pen.textBaseline = "top";
    for (let k = Math.ceil(bounds.left / perX / stepX); k * stepX * perX <= bounds.right; k++) {
      const x = toX(k * stepX * perX);
      rule(pen, x, box.y, x, box.y + box.h);
      pen.fillText(short(k * stepX, stepX), x, box.y + box.h + 5);
    }
    const stepY = step(bounds.top / perY, 6);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (let k = 0; k * stepY * perY <= bounds.top; k++) {
      const y = toY(k * stepY * perY);
      rule(pen, box.x, y, box.x + box.w, y);
      pen.fillText(short(k * stepY, stepY), box.x - 6, y);
    }
    pen.textAlign = "left";
    pen.textBaseline = "bottom";
    pen.fillText(metric ? "pressure, kPa" : "pressure, psi", small ? 0 : 8, box.y - 7);
    pen.textAlign = "right";
    pen.textBaseline = "bottom";
    pen.fillText(metric ? "travel of the pin, mm" : "travel of the pin, in", box.x + box.w, box.y + box.h + (small ? 38 : 42));
  }

  const short = (value, one) => value.toFixed(Math.max(0, -Math.floor(Math.log10(one) + 1e-9)));

  function rule(pen, x1, y1, x2, y2) {
    pen.beginPath();
    pen.moveTo(Math.round(x1) + 0.5, Math.round(y1) + 0.5);
    pen.lineTo(Math.round(x2) + 0.5, Math.round(y2) + 0.5);
    pen.stroke();
  }

  function path(pen, points) {
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.stroke();
  }

  function drawTrace(pen, colours, store, toX, toY) {
    const xy = store.xy, from = Math.max(0, xy.length - 2 * LATELY);
    const stretch = (start, stop) => {
      pen.beginPath();
      for (let i = start; i < stop; i += 2) {
        const x = toX(xy[i]), y = toY(xy[i + 1]);
        if (i === start) pen.moveTo(x, y); else pen.lineTo(x, y);
      }
      pen.stroke();
    };
    pen.lineJoin = "round";
    pen.strokeStyle = colours.trace;
    pen.lineWidth = 1.2;
    stretch(0, Math.min(xy.length, from + 2));
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 2.2;
    stretch(from, xy.length);
  }

  function drawLines(pen, colours, store, toX, toY, box) {
    pen.strokeStyle = colours.accent;
    const now = store.now;
    const fits = store.scene.fit || [];
    for (const fit of fits) {
      pen.lineWidth = 3;
      path(pen, fit.x.map((x, i) => [toX(x), toY(fit.y[i])]));
    }
    if (!fits.length && (now.ramp || []).length) {
      pen.lineWidth = 3;
      pen.setLineDash([9, 5]);
      path(pen, now.ramp.map(([x, y]) => [toX(x), toY(y)]));
      pen.setLineDash([]);
    }
    if (now.limit) {
      pen.strokeStyle = colours.ink;
      pen.lineWidth = 2;
      pen.setLineDash([2, 4]);
      path(pen, [[toX(now.limit), box.y], [toX(now.limit), box.y + box.h]]);
      pen.setLineDash([]);
    }
  }

  function start(store) {
    const fits = store.scene.fit || [];
    if (fits.length) return store.scene.start;
    return store.now.onset === undefined ? null : store.now.onset;
  }

  function drawNames(pen, colours, store, box, toX, small) {
    pen.fillStyle = colours.ink;
    pen.textBaseline = "bottom";
    pen.textAlign = "left";
    if (store.scene.zone) {
      const words = small ? "should begin here" : "the ramp should begin in this band";
      pen.fillText(words, Math.max(box.x, toX(store.scene.zone[0])) + 4, box.y + box.h + (small ? 38 : 42));
    }
    const at = start(store);
    if (at === null || at === undefined) return;
    const x = toX(at), y = box.y + box.h;
    pen.fillStyle = colours.accent;
    pen.beginPath();
    pen.moveTo(x, y - 12);
    pen.lineTo(x - 8, y);
    pen.lineTo(x + 8, y);
    pen.closePath();
    pen.fill();
  }

  function drawNewest(pen, colours, store, toX, toY) {
    const n = store.xy.length;
    if (!n) return;
    const x = toX(store.xy[n - 2]), y = toY(store.xy[n - 1]);
    pen.fillStyle = colours.ground;
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 3;
    pen.beginPath();
    pen.arc(x, y, 6, 0, 2 * Math.PI);
    pen.fill();
    pen.stroke();
  }

  return { draw, mustRedraw };
})();
