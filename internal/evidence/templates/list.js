// Filters and sorts the list. What is chosen stands in the address behind the hash, so that it survives going to a crimp
// and back, and can be handed on. Without this script all crimps are shown.
"use strict";
(function () {
  const form = document.getElementById("filters");
  const body = document.getElementById("rows");
  const status = document.getElementById("shown");
  const fields = Array.from(form.elements).filter((e) => e.name);
  const rows = Array.from(body.rows, (tr, at) => ({ tr, at, data: tr.dataset, wire: tr.dataset.wire ? 1 : 0, text: null, fits: true }));
  const total = [0, 0]; // crimps, and stripped wires, which are none
  for (const row of rows) total[row.wire]++;
  const heads = Array.from(document.querySelectorAll("th[data-sort]"), (th) => ({ th, sorts: th.dataset.sort.split(" ").filter((s, i) => s || !i) }));
  const mostNeighbours = 400; // numbers that a link to a crimp carries along at most
  let order = rows.slice();
  let sorted = "";
  let filtered = false;

  const text = (row) => (row.text ??= row.tr.textContent.toLowerCase());
  const number = (a, b) => a.data.n - b.data.n;
  const orders = {
    "": (a, b) => a.at - b.at,
    number,
    name: (a, b) => a.data.name - b.data.name,
    score: (a, b) => (a.data.score || 101) - (b.data.score || 101) || number(a, b),
    best: (a, b) => (b.data.score || -1) - (a.data.score || -1) || number(a, b),
  };

  function show() {
    const want = Object.fromEntries(fields.map((f) => [f.name, f.value]));
    const words = want.q.toLowerCase().split(/\s+/).filter(Boolean);
    const choices = fields.map((f) => f.name).filter((key) => key !== "q" && key !== "sort" && want[key] !== "");
    filtered = choices.length + words.length > 0;
    const count = [0, 0];
    for (const row of rows) {
      row.fits = choices.every((key) => (row.data[key] || "\t") === want[key]) && words.every((word) => text(row).includes(word));
      if (row.tr.hidden === row.fits) row.tr.hidden = !row.fits;
      if (row.fits) count[row.wire]++;
    }
    if (want.sort !== sorted) {
      sorted = want.sort;
      order = rows.slice().sort(orders[sorted]);
      body.append(...order.map((row) => row.tr));
    }
    for (const { th, sorts } of heads) {
      const at = sorts.indexOf(sorted);
      if (at < 0) th.removeAttribute("aria-sort");
      else th.setAttribute("aria-sort", at ? "descending" : "ascending");
    }
    const parts = [];
    if (total[0] || !total[1]) parts.push(count[0] + " of " + total[0] + (total[0] === 1 ? " crimp" : " crimps"));
    if (total[1]) parts.push(count[1] + " of " + total[1] + " stripped wire" + (total[1] === 1 ? "" : "s"));
    status.textContent = parts.join(", ") + (rows.length === 1 ? " is shown." : " are shown.");
  }

  function state() {
    const chosen = new URLSearchParams();
    for (const f of fields) if (f.value !== "") chosen.set(f.name, f.value);
    return chosen.toString();
  }

  // read takes the choice from the address. A hash without "=" is a place on this page.
  function read() {
    const hash = location.hash.slice(1);
    if (hash !== "" && !hash.includes("=")) return null;
    const chosen = new URLSearchParams(hash);
    for (const f of fields) {
      f.value = chosen.get(f.name) ?? "";
      if (f.selectedIndex < 0) f.selectedIndex = 0;
    }
    show();
    return chosen;
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
  addEventListener("hashchange", () => { if (read()) document.getElementById("list").focus(); });

  for (const { th, sorts } of heads) {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...th.childNodes);
    button.addEventListener("click", () => {
      form.elements.sort.value = sorts[(sorts.indexOf(sorted) + 1) % sorts.length];
      changed();
    });
    th.append(button);
  }

  // A link to a crimp carries the choice along, so that its page can lead back to it and on to the next chosen one.
  function carry(event) {
    const link = event.target.closest("a");
    if (!link) return;
    let hash = state();
    if (filtered || sorted !== "number") {
      const shown = order.filter((row) => row.fits);
      const at = shown.findIndex((row) => row.tr.contains(link));
      const from = Math.max(0, at - mostNeighbours / 2);
      hash += (hash && "&") + "in=" + shown.slice(from, from + mostNeighbours).map((row) => row.data.n).join(".");
    }
    link.hash = hash;
  }
  for (const kind of ["pointerdown", "focusin", "click"]) body.addEventListener(kind, carry);

  addEventListener("beforeprint", () => {
    for (const img of document.querySelectorAll("img[loading=lazy]")) img.loading = "eager";
    for (const details of document.querySelectorAll("details")) details.open = true;
  });
  form.hidden = false;
  const chosen = read();
  if (!chosen) show();
  const back = chosen && chosen.get("at");
  if (back) {
    const row = rows.find((row) => row.data.n === back);
    if (row && row.fits) {
      row.tr.scrollIntoView({ block: "center" });
      row.tr.querySelector("a").focus({ preventScroll: true });
    }
  }
})();
