// What is said of a job while the page cannot be reached is kept here, and sent when it can. The page works without this.
"use strict";
(() => {
  const NAME = "frostguard-kept";
  const told = document.querySelector(".kept");
  const kept = () => { try { return JSON.parse(localStorage.getItem(NAME)) || []; } catch { return []; } };
  const keep = (list) => localStorage.setItem(NAME, JSON.stringify(list));
  const tell = (failed) => {
    const count = kept().length;
    told.hidden = count === 0 || !failed;
    told.textContent = told.hidden ? "" :
      `No connection. Kept on this device, and sent as soon as there is one: ${count}.`;
  };
  const mark = () => { const field = document.querySelector("input[name=mark]"); return field ? field.value : ""; };
  const post = (one) => {
    const body = new URLSearchParams(one.fields);
    body.set("mark", mark());
    body.set("at", one.at);
    return fetch("/say", { method: "POST", body, redirect: "manual", credentials: "same-origin" });
  };
  let sending = false;
  const send = async () => {
    if (sending || kept().length === 0) return;
    sending = true;
    let some = false, failed = false;
    try {
      while (kept().length > 0) {
        const reply = await post(kept()[0]);
        if (reply.type !== "opaqueredirect" && reply.status === 403) { failed = true; break; } // an old page: sent after it is loaded anew
        if (reply.type !== "opaqueredirect" && reply.status >= 500) { failed = true; break; }
        keep(kept().slice(1));
        some = true;
      }
    } catch { failed = true; }
    sending = false;
    tell(failed);
    if (some && kept().length === 0) { history.replaceState(null, "", "/#said"); location.reload(); }
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.classList.contains("tick") || !event.submitter) return;
    event.preventDefault();
    const fields = [...new FormData(form, event.submitter)].filter(([name]) => name !== "mark");
    keep([...kept(), { fields, at: new Date().toISOString() }]);
    form.querySelectorAll("button").forEach((one) => { one.disabled = true; });
    send();
  });
  addEventListener("online", send);
  setInterval(send, 15000);
  send();
})();
