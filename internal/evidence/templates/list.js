// Filters and sorts the list. What is chosen stands in the address behind the hash, so that it survives going to a crimp
// and back, and can be handed on. Without this script all crimps are shown.
"use strict";
(function () {
  const form = document.getElementById("filters");
  const body = document.getElementById("rows");
  const status = document.getElementById("shown");
  const names = Array.from(form.elements, (e) => e.name).filter(Boolean);
  const rows = Array.from(body.rows, (tr, at) => ({ tr, at, data: tr.dataset, text: null, name: null }));
  let sorted = "";

  const text = (row) => (row.text ??= row.tr.textContent.toLowerCase());
  const name = (row) => (row.name ??= row.tr.querySelector("th a").textContent);
  const collator = new Intl.Collator("en", { numeric: true });
  const orders = {
    "": (a, b) => a.at - b.at,
    number: (a, b) => a.data.n - b.data.n,
    name: (a, b) => collator.compare(name(a), name(b)) || a.data.n - b.data.n,
    score: (a, b) => (a.data.score || 101) - (b.data.score || 101) || a.data.n - b.data.n,
  };

  function wanted() {
    const all = {};
    for (const key of names) all[key] = form.elements[key].value;
    return all;
  }

  function show() {
    const want = wanted();
    const words = want.q.toLowerCase().split(/\s+/).filter(Boolean);
    const choices = names.filter((key) => key !== "q" && key !== "sort" && want[key] !== "");
    let count = 0;
    for (const row of rows) {
      const fits = choices.every((key) => (row.data[key] || "-") === want[key]) && words.every((word) => text(row).includes(word));
      row.tr.hidden = !fits;
      if (fits) count++;
    }
    const order = orders[want.sort] ? want.sort : "";
    if (order !== sorted) {
      const fragment = document.createDocumentFragment();
      for (const row of rows.slice().sort(orders[order])) fragment.append(row.tr);
      body.append(fragment);
      sorted = order;
    }
    status.textContent = count + " of " + rows.length + (rows.length === 1 ? " crimp" : " crimps") + " are shown.";
  }

  function state() {
    const chosen = new URLSearchParams();
    for (const [key, value] of Object.entries(wanted())) if (value !== "") chosen.set(key, value);
    return chosen.toString();
  }

  function read() {
    const hash = location.hash.slice(1);
    if (hash !== "" && !hash.includes("=")) return;
    const chosen = new URLSearchParams(hash);
    for (const key of names) form.elements[key].value = chosen.get(key) ?? "";
    for (const key of names) if (form.elements[key].value === "" && form.elements[key].options) form.elements[key].selectedIndex = 0;
    show();
  }

  function changed() {
    history.replaceState(null, "", "#" + state());
    show();
  }

  let timer;
  form.addEventListener("input", (event) => {
    clearTimeout(timer);
    timer = setTimeout(changed, event.target.name === "q" ? 120 : 0);
  });
  form.addEventListener("reset", () => setTimeout(changed, 0));
  form.addEventListener("submit", (event) => event.preventDefault());
  addEventListener("hashchange", read);
  // A link to a crimp carries the choice along, so that the crimp's page can lead back to it.
  for (const kind of ["mousedown", "focusin", "touchstart", "click"]) {
    body.addEventListener(kind, (event) => {
      const link = event.target.closest("a");
      if (link) link.hash = state();
    }, { passive: true });
  }
  addEventListener("beforeprint", () => document.querySelectorAll("img[loading=lazy]").forEach((img) => { img.loading = "eager"; }));
  form.hidden = false;
  read();
})();
