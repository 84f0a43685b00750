"use strict";
(function () {
  const byId = (id) => document.getElementById(id);
  const list = byId("units"), tools = byId("tools"), shown = byId("shown");
  const items = Array.from(list.children);
  const controls = ["find", "sort", "area", "state", "kind"].map(byId).filter(Boolean);
  const fields = { area: "a", state: "g", kind: "d" };
  const known = new Map(items.map((item, at) => [item, {
    at, text: item.textContent.toLowerCase(),
    tag: item.querySelector("b").textContent, place: (item.querySelector("summary small") || item).textContent,
    sure: Number(item.dataset.p || 0),
  }]));
  const name = new Intl.Collator("en", { numeric: true });
  const orders = {
    "": (a, b) => a.at - b.at,
    sure: (a, b) => b.sure - a.sure || a.at - b.at,
    tag: (a, b) => name.compare(a.tag, b.tag),
    place: (a, b) => name.compare(a.place, b.place) || name.compare(a.tag, b.tag),
  };
  function show() {
    const words = byId("find").value.toLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const [item, of] of known) {
      const fits = words.every((word) => of.text.includes(word)) &&
        Object.entries(fields).every(([id, field]) => {
          const control = byId(id);
          return !control || !control.value || item.dataset[field] === control.value;
        });
      item.hidden = !fits;
      count += fits ? 1 : 0;
    }
    shown.textContent = count === items.length ? `${count} devices` : `${count} of ${items.length} devices`;
  }
  function sort() {
    const order = orders[byId("sort").value];
    list.append(...[...items].sort((a, b) => order(known.get(a), known.get(b))));
  }
  if (items.length > 1) {
    tools.hidden = false;
    for (const control of controls) control.addEventListener("input", show);
    byId("sort").addEventListener("input", sort);
    show();
  }
})();
