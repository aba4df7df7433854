"use strict";
// One film holds all panels, so they cannot come out of step: each canvas shows its own part of the frame it is at.
(() => {
  document.documentElement.classList.remove("no-script");
  const plan = JSON.parse(document.getElementById("plan").textContent);
  const at = (id) => document.getElementById(id);
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const [all, two, scrub, count, play] = ["all", "two", "scrub", "count", "play"].map(at);
  const canvases = [...all.querySelectorAll("canvas")];
  const last = plan.frames - 1;
  let shown = plan.moment; // the frame on screen
  let wanted = null; // the frame being looked for
  let edge = 0.5; // of the wipe, as a share of the width

  const film = document.createElement("video");
  film.id = "film";
  film.muted = true;
  film.playsInline = true;
  film.preload = "auto";
  film.setAttribute("aria-hidden", "true");
  film.tabIndex = -1;
  film.loop = at("repeat").checked = !still.matches; // who asked for less motion is not shown a loop
  film.addEventListener("error", () => say("This browser cannot play the clip (H.264). The still sheet below shows one moment."));
  document.body.append(film);
  const coded = Uint8Array.from(atob(at("clip").textContent), (letter) => letter.charCodeAt(0));
  film.src = URL.createObjectURL(new Blob([coded], { type: "video/mp4" }));

  function say(text) {
    at("trouble").textContent = text;
    at("trouble").hidden = false;
  }

  // --- drawing ---

  // What is seen: the film, and until it is decoded its frame at the moment.
  const decoded = () => film.readyState >= 2;
  const first = new Image();
  const seen = () => decoded() ? film : first;

  // The part of the film that is a panel; a film made smaller than planned has smaller parts.
  function part(number) {
    const factor = (film.videoWidth || first.naturalWidth) / plan.size[0];
    return plan.boxes[number].map((length) => length * factor);
  }

  function fit(canvas, number) {
    const [, , width, height] = part(number).map(Math.round);
    if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
  }

  function drawPart(pen, number) {
    pen.drawImage(seen(), ...part(number), 0, 0, pen.canvas.width, pen.canvas.height);
  }

  function draw() {
    if (!decoded() && !first.naturalWidth) return;
    if (two && !two.hidden) drawWiped();
    else canvases.forEach((canvas, number) => {
      fit(canvas, number);
      drawPart(canvas.getContext("2d"), number);
    });
    if (!decoded()) return;
    scrub.value = shown;
    const frame = `frame ${shown} of 0 to ${plan.frames - 1}`;  // counted from 0, as on plans and by commands
    scrub.setAttribute("aria-valuetext", frame);
    count.textContent = `${frame}, ${(shown / plan.rate).toFixed(2)} s on screen`;
  }

  function drawWiped() {
    const canvas = at("wiped");
    const [left, right] = [Number(at("left").value), Number(at("right").value)];
    fit(canvas, left);
    const pen = canvas.getContext("2d");
    drawPart(pen, right);
    pen.save();
    pen.beginPath();
    pen.rect(0, 0, Math.round(canvas.width * edge), canvas.height);
    pen.clip();
    drawPart(pen, left);
    pen.restore();
    canvas.setAttribute("aria-label", `Left of the edge ${plan.alts[left]} Right of it ${plan.alts[right]}`);
    at("edge").style.left = `${edge * 100}%`;
    at("edge").setAttribute("aria-valuenow", Math.round(edge * 100));
    at("edge").setAttribute("aria-valuetext", `${Math.round(edge * 100)} % ${plan.names[left]}, the rest ${plan.names[right]}`);
  }

  // --- time ---

  const clamp = (number) => Math.min(Math.max(Math.round(number), 0), last);

  function arrived(seconds) {
    shown = clamp(Math.floor(seconds * plan.rate + 0.01));
    draw();
  }

  // The middle of a frame is safely within it, however a browser rounds.
  function goTo(number) {
    film.pause();
    const frame = clamp(number);
    if (wanted === null) film.currentTime = (frame + 0.5) / plan.rate;
    wanted = frame;
  }

  film.addEventListener("seeked", () => {
    if (wanted === null) return arrived(film.currentTime);
    const reached = clamp(Math.floor(film.currentTime * plan.rate));
    if (reached !== wanted && film.paused) film.currentTime = (wanted + 0.5) / plan.rate;
    else wanted = null;
    arrived(film.currentTime);
  });
  first.addEventListener("load", () => { if (!decoded()) draw(); });
  first.src = `data:image/jpeg;base64,${at("still").textContent}`;
  film.addEventListener("loadeddata", () => goTo(plan.moment), { once: true });

  // A busy machine may say that it has sought before the picture is there: then what was drawn was black or the last.
  const follow = "requestVideoFrameCallback" in film
    ? () => film.requestVideoFrameCallback((_, what) => {
      if (!film.paused || (wanted === null && count.textContent)) arrived(what.mediaTime);
      follow();
    })
    : () => requestAnimationFrame(() => { if (!film.paused) arrived(film.currentTime); follow(); });
  follow();

  function toggle() {
    if (!film.paused) return film.pause();
    if (shown === last) film.currentTime = 0;
    film.playbackRate = Number(at("speed").value);
    return film.play().catch(() => say("The clip would not start; tap a picture once more."));
  }

  film.addEventListener("play", () => { play.textContent = "Pause"; });
  film.addEventListener("pause", () => {
    play.textContent = "Play";
    if (wanted === null && !film.ended) goTo(shown);  // the clock may be a frame behind what is seen
  });
  film.addEventListener("ended", () => { play.textContent = "Play"; });

  // --- on paper ---

  // All that is shut is opened to be printed, and only that is shut again.
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    opened.forEach((each) => { each.open = true; });
  });
  addEventListener("afterprint", () => opened.forEach((each) => { each.open = false; }));

  // --- hands ---

  play.addEventListener("click", toggle);
  at("back").addEventListener("click", () => goTo((wanted ?? shown) - 1));
  at("on").addEventListener("click", () => goTo((wanted ?? shown) + 1));
  scrub.addEventListener("input", () => goTo(Number(scrub.value)));
  at("speed").addEventListener("change", () => { film.playbackRate = Number(at("speed").value); });
  at("repeat").addEventListener("change", () => { film.loop = at("repeat").checked; });
  canvases.forEach((canvas) => canvas.addEventListener("click", toggle));

  if (two) {
    const wiped = two.querySelector(".wiped");
    const wipe = () => {
      two.hidden = !two.hidden;
      all.hidden = !two.hidden;
      at("wipe").setAttribute("aria-pressed", String(!two.hidden));
      draw();
    };
    const moveTo = (share) => {
      edge = Math.min(Math.max(share, 0), 1);
      draw();
    };
    const pull = (event) => {
      const box = wiped.getBoundingClientRect();
      moveTo((event.clientX - box.left) / box.width);
    };
    at("wipe").addEventListener("click", wipe);
    at("left").addEventListener("change", draw);
    at("right").addEventListener("change", draw);
    wiped.addEventListener("pointerdown", (event) => {
      wiped.setPointerCapture(event.pointerId);
      at("edge").focus({ preventScroll: true });
      event.preventDefault();
      pull(event);
    });
    wiped.addEventListener("pointermove", (event) => { if (wiped.hasPointerCapture(event.pointerId)) pull(event); });
    at("edge").addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 0.1 : 0.01;
      const to = { ArrowLeft: edge - step, ArrowRight: edge + step, Home: 0, End: 1 }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      event.stopPropagation();
      moveTo(to);
    });
  }

  document.addEventListener("keydown", (event) => {
    // A control that has the keyboard keeps its own keys.
    if (event.altKey || event.ctrlKey || event.metaKey || event.target.closest("select, summary, input")) return;
    const step = event.shiftKey ? 10 : 1;
    const now = wanted ?? shown;
    if (event.key === " " && !event.target.closest("button")) toggle();
    else if (event.key === "ArrowLeft") goTo(now - step);
    else if (event.key === "ArrowRight") goTo(now + step);
    else if (event.key === "Home") goTo(0);
    else if (event.key === "End") goTo(last);
    else if (two && event.key.toLowerCase() === "w") at("wipe").click();
    else return;
    event.preventDefault();
  });
})();
