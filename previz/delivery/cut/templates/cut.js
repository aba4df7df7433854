"use strict";
(() => {
  const film = document.getElementById("cut");
  const trouble = document.getElementById("trouble");
  const say = (text) => { trouble.textContent = text; trouble.hidden = false; };
  film.addEventListener("error", () => say("This browser cannot play the clip (H.264). The pictures below show each shot."));
  const coded = Uint8Array.from(atob(document.getElementById("clip").textContent), (letter) => letter.charCodeAt(0));
  film.src = URL.createObjectURL(new Blob([coded], { type: "video/mp4" }));
  // All that is shut is opened to be printed.
  addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((each) => { each.open = true; }));
  for (const button of document.querySelectorAll("button[data-at]")) {
    button.addEventListener("click", () => {
      film.currentTime = Number(button.dataset.at);
      film.play().catch(() => say("The clip would not start; press play on it."));
      film.scrollIntoView({ block: "nearest" });
    });
  }
})();
