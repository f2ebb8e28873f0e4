"use strict";
(() => {
  const every = 10000;
  const wanted = document.getElementById("fresh");
  const news = document.getElementById("news");
  const places = ["main", "footer", "h1"];
  let seen = null;
  const look = async () => {
    if (!wanted.checked || document.hidden) return;
    try {
      const answer = await fetch(location.href, { cache: "no-store" });
      const stamp = answer.headers.get("etag");
      if (!answer.ok) throw new Error(answer.status);
      if (seen !== null && seen !== stamp) {
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const at = document.activeElement && document.activeElement.getAttribute("href");
        for (const place of places) document.querySelector(place).replaceWith(page.querySelector(place));
        const again = at && [...document.querySelectorAll("a")].find((link) => link.getAttribute("href") === at);
        if (again) again.focus({ preventScroll: true });
        news.textContent = "New at " + new Date().toLocaleTimeString();
      } else if (news.dataset.lost) {
        news.textContent = "";
      }
      delete news.dataset.lost;
      seen = stamp;
    } catch (_) {
      news.dataset.lost = "yes";
      news.textContent = "The studio does not answer; this is the sheet as it was.";
    }
  };
  look();
  setInterval(look, every);
  wanted.addEventListener("change", look);
  document.addEventListener("visibilitychange", look);
})();
