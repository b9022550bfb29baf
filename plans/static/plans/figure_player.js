// Moves a figure: draws the outlines of its circles, frame by frame, in the paths already there.
// A [data-figure-player] has its frames as JSON in data-frames (plans/figure.py) and holds an
// svg[data-moving] and a button with its two labels in data-start-moving and data-stop-moving. Still
// where less motion is asked for, and where it says data-figure-player="still", until it is pressed.
// A page that puts one in later tells it by an event "figure-shown"; one whose player has a function
// momentAt(seconds of a repetition) says itself where in a repetition (0 to 1) the figure is.
(() => {
  "use strict";
  const FULL = 2 * Math.PI;
  const rounded = (value) => Math.floor(value + 0.5);
  const signed = (number) => (number < 0 ? `${number}` : ` ${number}`);

  // The arcs [circle, begins, ends] of the hull of circles [x, y, radius]: plans/hulls.py, outline.
  function outline(circles) {
    let here = 0;
    circles.forEach(([x, , r], i) => {
      if (x + r > circles[here][0] + circles[here][2]) here = i;
    });
    let begins = 0;
    let angle = 0;
    const arcs = [];
    for (let step = 0; step < 4 * circles.length; step += 1) {
      const [x, y, radius] = circles[here];
      let nearest = FULL;
      let following = -1;
      circles.forEach(([ox, oy, oradius], other) => {
        const apart = Math.hypot(ox - x, oy - y);
        if (other === here || apart <= Math.abs(radius - oradius) + 1e-9) return;
        const overtakes = Math.atan2(oy - y, ox - x) - Math.acos((radius - oradius) / apart);
        let wait = (((overtakes - angle) % FULL) + FULL) % FULL;
        if (wait > FULL - 1e-9) wait = 0;
        if (wait < nearest) [nearest, following] = [wait, other];
      });
      angle += nearest;
      if (following < 0 || angle >= FULL) break;
      arcs.push([here, begins, angle]);
      [here, begins] = [following, angle];
    }
    if (!arcs.length) return [[here, 0, FULL]];
    const [first, , firstEnd] = arcs.shift();
    if (here === first) return begins ? [...arcs, [here, begins, firstEnd + FULL]] : [[here, 0, FULL]];
    return [...arcs, [here, begins, FULL], [first, 0, firstEnd]];
  }

  // The hull as path data: plans/hulls.py, svg_path.
  function hullPath(circles) {
    const arcs = outline(circles);
    if (arcs.length === 1) {
      const [left, middle, size] = circles[arcs[0][0]].map(rounded);
      const half = `a${size} ${size} 0 1 1`;
      return `M${left - size}${signed(middle)}${half} ${2 * size} 0${half}-${2 * size} 0Z`;
    }
    let data = "";
    let atX = 0;
    let atY = 0;
    arcs.forEach(([index, begins, ends]) => {
      const [x, y, radius] = circles[index];
      const startX = rounded(x + radius * Math.cos(begins));
      const startY = rounded(y + radius * Math.sin(begins));
      if (!data) data = `M${startX}${signed(startY)}`;
      else if (startX !== atX || startY !== atY) data += `l${startX - atX}${signed(startY - atY)}`;
      atX = rounded(x + radius * Math.cos(ends));
      atY = rounded(y + radius * Math.sin(ends));
      if (atX === startX && atY === startY) return;
      const large = ends - begins > Math.PI + 1e-9 ? 1 : 0;
      const size = rounded(radius);
      data += `a${size} ${size} 0 ${large} 1${signed(atX - startX)}${signed(atY - startY)}`;
    });
    return `${data}Z`;
  }

  // The path data of every moving part at a moment (0 to 1 of a repetition).
  function pathsAt(data, moment) {
    const last = data.frames.length - 1;
    const before = Math.min(Math.floor(moment * last), last - 1);
    const share = moment * last - before;
    const from = data.frames[before];
    const to = data.frames[before + 1];
    let next = 0;
    const place = () => {
      const value = from[next] + (to[next] - from[next]) * share;
      next += 1;
      return value;
    };
    return data.hulls.map((part) =>
      part.map((radii) => hullPath(radii.map((r) => [place(), place(), r]))).join(""),
    );
  }

  const attached = new WeakSet(); // not an attribute: a clone is to be attached anew

  function attach(player) {
    if (attached.has(player)) return;
    attached.add(player);
    const svg = player.querySelector("svg[data-moving]");
    const button = player.querySelector("button");
    const data = JSON.parse(player.dataset.frames);
    if (!data.seconds) return; // a hold: there is nothing to move
    const paths = [...svg.querySelectorAll("path")].slice(-Number(svg.dataset.moving));
    let moving = false;
    let moment = 0;
    let last = 0;

    function draw(now) {
      if (!moving || !player.isConnected) return;
      // A frame's time is when the frame began, which may be before the press that it answers.
      moment = (moment + Math.max(0, now - last) / 1000 / data.seconds) % 1;
      last = now;
      if (player.momentAt) moment = player.momentAt(data.seconds);
      if (player.offsetParent) // what is hidden stands
        pathsAt(data, moment).forEach((path, i) => paths[i].setAttribute("d", path));
      requestAnimationFrame(draw);
    }

    function set(on) {
      moving = on;
      player.classList.toggle("begun", on || player.classList.contains("begun"));
      button.textContent = on ? button.dataset.stopMoving : button.dataset.startMoving;
      if (!on) return;
      last = performance.now();
      requestAnimationFrame(draw);
    }

    button.hidden = false;
    button.addEventListener("click", () => set(!moving));
    const still = player.dataset.figurePlayer === "still";
    set(!still && !matchMedia("(prefers-reduced-motion: reduce)").matches);
  }

  if (typeof module !== "undefined") {
    module.exports = { hullPath, pathsAt };
    return;
  }
  const attachAll = (root) => root.querySelectorAll("[data-figure-player]").forEach(attach);
  attachAll(document);
  for (const shown of ["htmx:load", "figure-shown"])
    document.addEventListener(shown, (event) => attachAll(event.target));
})();
