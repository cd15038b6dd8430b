// What is said of a job while the page cannot be reached is kept here, and sent when it can. The page works without this.
"use strict";
(() => {
  const NAME = "frostguard-kept", REFUSED = "frostguard-refused";
  const told = document.querySelector(".kept");
  const read = (name, none) => { try { return JSON.parse(localStorage.getItem(name)) || none; } catch { return none; } };
  const kept = () => read(NAME, []);
  const keep = (list) => localStorage.setItem(NAME, JSON.stringify(list));
  const tell = (words, count) => {
    told.hidden = count === 0;
    told.textContent = count === 0 ? "" : words.replace("{count}", count);
  };
  // At the edge of the wireless an answer may never come.
  const ask = (address, how) => fetch(address, { credentials: "same-origin", signal: AbortSignal.timeout(20000), ...how });
  // Not the mark of the page that is open: it may have none, or the server may have been started anew since.
  const mark = async () => {
    const page = new DOMParser().parseFromString(await (await ask("/settings")).text(), "text/html");
    return page.querySelector("input[name=mark]")?.value || "";
  };
  const post = async (one) => {
    const body = new URLSearchParams(one.fields);
    body.set("mark", await mark());
    body.set("at", one.at);
    return ask("/say", { method: "POST", body, redirect: "manual" });
  };
  const said = (form) => form.querySelectorAll("button").forEach((one) => { one.disabled = true; });
  const numbers = (form) => new FormData(form).getAll("job").join();
  const keptNumbers = () => kept().map((one) => one.fields.filter(([name]) => name === "job").map(([, job]) => job).join());
  let sending = false;
  const send = async () => {
    if (sending || kept().length === 0) return;
    sending = true;
    let sent = [], refused = 0, failed = false;
    try {
      while (kept().length > 0) {
        const one = kept()[0], reply = await post(one);
        if (reply.type !== "opaqueredirect") {
          // 400: nobody knows that job any more. Anything else may pass: an old page, a stopped server.
          if (reply.status !== 400) { failed = true; break; }
          refused += 1;
        } else sent = one.fields.filter(([name]) => name === "job").map(([, number]) => number);
        const done = JSON.stringify(one);  // by what it is: another window may have sent it meanwhile
        keep(kept().filter((other) => JSON.stringify(other) !== done));
      }
    } catch { failed = true; }
    sending = false;
    if (refused > 0) localStorage.setItem(REFUSED, JSON.stringify(read(REFUSED, 0) + refused));
    if (failed) tell(told.dataset.waiting, kept().length);
    else if (sent.length > 0 || refused > 0) {
      const here = `/?said=${sent.join("-")}#jobs`;
      if (location.pathname + location.search + location.hash === here) location.reload();
      else location.href = here;
    }
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.classList.contains("tick") || !event.submitter) return;
    const fields = [...new FormData(form, event.submitter)].filter(([name]) => name !== "mark");
    try { keep([...kept(), { fields, at: new Date().toISOString() }]); } catch { return; } // no room: as without this
    event.preventDefault();
    said(form);
    send();
  });
  addEventListener("online", send);
  setInterval(send, 15000);
  // A page loaded anew, or come back to, shows what is still kept as said.
  const waiting = keptNumbers();
  document.querySelectorAll("form.tick").forEach((form) => { if (waiting.includes(numbers(form))) said(form); });
  tell(told.dataset.refused, read(REFUSED, 0));
  localStorage.removeItem(REFUSED);
  send();
})();
