"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const film = $("film"), time = $("time"), play = $("play");

  let shown = null;   // as previz told it last
  let wanted = !matchMedia("(prefers-reduced-motion: reduce)").matches;  // whether a clip is to play when it comes
  let clip = null;    // the one that is loaded
  let held = false;   // the slider was moved, and the still of that time has not come yet
  let wish = null, wished = 0;
  let sheet = 0;      // of the plan, from 0; it stays when the file is saved

  const shot = () => shown.shots.find((each) => each.id === shown.shot);
  const words = (tag, text, name) => {
    const element = document.createElement(tag);
    element.textContent = text;
    if (name) element.className = name;
    return element;
  };

  // --- what is told ---

  function take(news) {
    const before = shown;
    shown = news;
    document.title = `${news.title}: ${news.shot}`;
    $("title").textContent = news.title;
    tellShots(before);
    if (!before || news.still !== before.still) showStill();
    tellPlan();
    tellClip();
    tellFaults();
    tellFindings();
    tellDoing();
  }

  function tellShots(before) {
    const names = (news) => JSON.stringify(news.shots.map((each) => each.id));
    if (!before || names(before) !== names(shown)) {
      $("shot").replaceChildren(...shown.shots.map((each) => words("option", each.id)));
    }
    if (!before || before.shot !== shown.shot) $("shot").value = shown.shot;
    $("choice").hidden = shown.shots.length < 2;
    time.disabled = !shown.shots.length;
    if (shot()) time.max = shot().frames - 1;
  }

  function tellFaults() {
    $("faults").hidden = !shown.faults.length;
    $("before").hidden = !shown.still;
    $("fault-list").replaceChildren(...shown.faults.map((each) => {
      const item = words("li", "");
      if (each.place) item.append(words("strong", each.place), ": ");
      item.append(each.message);
      if (each.source) item.append(words("code", each.source));
      return item;
    }));
  }

  function tellFindings() {
    const unfolded = new Map([...$("findings").querySelectorAll("details")].map((each) => [each.dataset.of, each.open]));
    $("findings").replaceChildren(...shown.findings.map((each) => {
      const item = words("li", "", each.verdict), more = words("details", ""), short = words("summary", "");
      short.append(words("strong", each.verdict), ` ${each.first}`);
      more.dataset.of = `${each.verdict} ${each.first}`;
      more.open = unfolded.get(more.dataset.of) ?? each.verdict === "stop";
      more.append(short, ...[each.rest, each.remedy].filter(Boolean).map((said) => words("span", said)));
      item.append(more);
      return item;
    }));
    $("care").hidden = !shown.cautions.length;
    $("cautions").replaceChildren(...shown.cautions.map((each) => {
      const item = words("li", `${each.because}: `);
      item.append(words("span", each.precaution));
      return item;
    }));
    $("fine").textContent = !shown.shots.length ? "" : shown.findings.length
      ? `${shown.fine} more looked at and fine.` : `${shown.fine} looked at, all fine.`;
  }

  function tellPlan() {
    const sheets = shown.plan;
    $("above").hidden = !sheets.length;
    if (!sheets.length) return;
    const now = Math.min(sheet, sheets.length - 1), { picture, says } = sheets[now];
    const source = `pictures/${picture}`;
    if ($("plan").getAttribute("src") !== source) $("plan").src = source;
    $("plan").alt = now ? `Sheet ${now + 1} of the plan: ${says}`
      : "Plan of the set from above: table, road, pieces, lamps, and the camera with what it sees";
    $("above-name").textContent = says;
    $("sheets").hidden = sheets.length < 2;
    $("sheet").textContent = `${now + 1} of ${sheets.length}`;
    $("sheet-before").disabled = now === 0;
    $("sheet-after").disabled = now === sheets.length - 1;
  }

  function turn(by) {
    sheet = Math.max(0, Math.min(sheet, shown.plan.length - 1) + by);
    tellPlan();
  }

  function tellDoing() {
    $("doing").textContent = shown.doing ? `Working: ${shown.doing}`
      : shown.faults.length ? "The picture is of an earlier save."
      : shown.took === null ? "" : `Draft, drawn ${shown.took.toFixed(1)} s after the save.`;
    $("flashes").hidden = !(shown.clip && shown.clip.flashes);
    $("flashes").textContent = shown.clip ? shown.clip.flashes : "";
  }

  function tellTime() {
    const now = Number(time.value), of = shot();
    if (!of) return;
    const moment = (of.first + now * of.step).toFixed(3);
    // Counted from 0, as on plans and by commands.
    $("count").textContent = `${moment} s on set, frame ${now} of 0 to ${of.frames - 1}`;
    time.setAttribute("aria-valuetext", `${moment} seconds on set`);
  }

  // --- pictures ---

  async function showStill() {
    const { still: name, shot: of, at } = shown;
    if (!name) return;
    const next = new Image();
    next.id = "still";
    next.src = `pictures/${name}`;
    next.alt = `Draft of shot ${of}, frame ${at}`;
    try {
      await next.decode();
    } catch {
      return;  // a newer one has taken its place
    }
    if (shown.still !== name) return;
    $("still").replaceWith(next);
    if (held && Number(time.value) !== at) return;
    held = false;
    if (!film.paused) return;
    film.hidden = true;
    time.value = at;
    tellTime();
  }

  async function tellClip() {
    const news = shown.clip;
    if (!news) {
      forget();
      return;
    }
    if (clip && clip.name === news.name) return;
    forget();
    const mine = clip = { ...news, loaded: false };
    const answer = await fetch(`pictures/${news.name}`).catch(() => null);
    if (!answer || !answer.ok || clip !== mine) return;
    film.src = URL.createObjectURL(await answer.blob());
  }

  function forget() {
    if (film.src) URL.revokeObjectURL(film.src);
    film.removeAttribute("src");
    film.load();
    film.hidden = true;
    clip = null;
    play.disabled = true;
    play.textContent = "Play";
    if (shown.still && !held) time.value = shown.at;
    tellTime();
  }

  film.addEventListener("loadeddata", () => {
    if (!clip || clip.loaded) return;
    clip.loaded = true;
    play.disabled = false;
    if (wanted && !clip.flashes && !held) start();
  });

  function start() {
    film.hidden = false;
    film.play().catch(() => {});
  }
  film.addEventListener("play", () => { play.textContent = "Pause"; requestAnimationFrame(follow); });
  film.addEventListener("pause", () => { play.textContent = "Play"; });

  function follow() {
    if (film.paused || !clip) return;
    const frame = Math.floor(film.currentTime * clip.rate + 1e-3) * clip.step;
    time.value = Math.min(frame, Number(time.max));
    tellTime();
    requestAnimationFrame(follow);
  }

  // --- what is wished ---

  function ask(of, moment) {
    wish = { shot: of, time: moment };
    const wait = wished + 120 - performance.now();
    if (wait <= 0) send();
    else setTimeout(send, wait);
  }

  function send() {
    if (!wish) return;
    const body = JSON.stringify(wish);
    wish = null;
    wished = performance.now();
    fetch("wish", { method: "POST", body }).catch(() => {});
  }

  function seek() {
    const of = shot();
    if (!of) return;
    wanted = false;
    held = true;
    film.pause();
    if (clip && clip.loaded) {  // small, but there at once
      film.currentTime = (Math.floor(Number(time.value) / clip.step) + 0.5) / clip.rate;
      film.hidden = false;
    }
    tellTime();
    ask(of.id, of.first + Number(time.value) * of.step);
  }

  time.addEventListener("input", seek);
  $("shot").addEventListener("change", () => { held = false; ask($("shot").value, null); });
  play.addEventListener("click", () => {
    if (!film.paused) {
      seek();
      return;
    }
    wanted = true;
    held = false;
    start();
  });
  $("sheet-before").addEventListener("click", () => turn(-1));
  $("sheet-after").addEventListener("click", () => turn(1));
  $("enlarge").addEventListener("click", () => {
    const large = document.querySelector("main").classList.toggle("large");
    $("enlarge").setAttribute("aria-pressed", large);
  });
  addEventListener("keydown", (event) => {
    if (event.key !== " " || event.ctrlKey || event.metaKey || event.altKey) return;
    if (["BUTTON", "SELECT"].includes(event.target.tagName) || play.disabled) return;
    event.preventDefault();
    play.click();
  });

  // --- listening ---

  const source = new EventSource("news");
  const trouble = (text) => { $("ended").textContent = text; $("ended").hidden = !text; };
  source.addEventListener("message", (event) => { trouble(""); take(JSON.parse(event.data)); });
  source.addEventListener("over", () => {
    source.close();
    $("doing").textContent = "";
    trouble("previz has ended. This is how it was last.");
  });
  source.addEventListener("error", () => trouble("There is no word from previz. Is it still running?"));
})();
