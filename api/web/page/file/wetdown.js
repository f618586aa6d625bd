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

// A ticket that is dropped on another day of the floor shows what that day would do;
// nothing is moved until the form there is sent.
const floor = document.querySelector("table.floor");
if (floor) {
  let visit = null;
  const place = (e) => e.target.closest("td[data-day], td.offer");
  floor.addEventListener("dragstart", (e) => {
    const ticket = e.target.closest("[data-visit]");
    if (!ticket) return;
    visit = ticket.dataset.visit;
    e.dataTransfer.setData("text/plain", visit);
    e.dataTransfer.effectAllowed = "move";
  });
  floor.addEventListener("dragover", (e) => {
    const td = place(e);
    if (!visit || !td || td.classList.contains("closed")) return;
    e.preventDefault();
    floor.querySelector(".drop")?.classList.remove("drop");
    td.classList.add("drop");
  });
  floor.addEventListener("dragend", () => {
    visit = null;
    floor.querySelector(".drop")?.classList.remove("drop");
  });
  floor.addEventListener("drop", (e) => {
    const td = place(e);
    if (!visit || !td) return;
    e.preventDefault();
    const day = td.dataset.day || td.querySelector("[data-day]")?.dataset.day;
    location.assign(`/visits/${encodeURIComponent(visit)}?day=${day}#order`);
  });
}
