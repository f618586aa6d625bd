// What pages gain with a script: live news, answers as they come, and dragging. Every
// page works without it.

// A newer revision of the plant is announced, not forced on somebody who is typing.
const revision = Number(document.body.dataset.revision || 0);
if (revision && "EventSource" in window) {
  const news = new EventSource("/events");
  news.addEventListener("revision", (e) => {
    if (Number(e.lastEventId) > revision) {
      const line = document.querySelector(".news");
      if (line) line.hidden = false;
    }
  });
}

// A page that waits for an answer looks for it, and goes there.
for (const box of document.querySelectorAll("[data-job]")) {
  const to = box.dataset.to || location.href;
  const word = box.querySelector(".live");
  const news = new EventSource(`/jobs/${box.dataset.job}/events`);
  const over = () => { news.close(); location.replace(to); };
  for (const end of ["done", "failed", "cancelled"]) news.addEventListener(end, over);
  news.addEventListener("progress", (e) => {
    if (!word) return;
    const p = JSON.parse(e.data);
    word.textContent = (p.tiers || []).map((t) => `${t.name} ${t.bound === t.value ? t.value : `${t.bound}–${t.value}`}`).join(" · ") || p.word || "";
  });
}
