"use strict";
(() => {
  const make = (name, text = "", attributes = {}) => {
    const element = document.createElement(name);
    element.textContent = text;
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };

  const order = (a, b) => {
    if (a === "" || b === "") return (a === "") - (b === "");
    const [x, y] = [Number(a), Number(b)];
    return Number.isNaN(x) || Number.isNaN(y) ? a.localeCompare(b, "en", { numeric: true }) : x - y;
  };

  const sortable = (table) => {
    const heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, column) => {
      const label = head.querySelector(".head");
      const button = make("button", label.textContent, { type: "button" });
      label.replaceWith(button);
      button.addEventListener("click", () => {
        const up = head.getAttribute("aria-sort") !== "ascending";
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", up ? "ascending" : "descending");
        const body = table.tBodies[0];
        const key = (row) => row.cells[column].dataset.key;
        const rows = [...body.rows].sort((a, b) => {
          const missing = (key(a) === "") - (key(b) === "");
          return missing || (up ? order(key(a), key(b)) : order(key(b), key(a)));
        });
        body.append(...rows);
      });
    });
  };

  const filterable = (box, table) => {
    const rows = [...table.tBodies[0].rows];
    const words = [...new Set([...table.querySelectorAll("tbody .verdict")].map((v) => v.textContent.trim()))];
    const tools = make("div", "", { class: "tools" });
    const input = make("input", "", { type: "search" });
    const label = make("label", "Find ");
    label.append(input);
    const select = make("select");
    select.append(make("option", "every verdict", { value: "" }));
    words.forEach((word) => select.append(make("option", word, { value: word })));
    const choice = make("label", "Show ");
    choice.append(select);
    const count = make("output", `${rows.length} of ${rows.length} rows`, { "aria-live": "polite" });
    tools.append(label, ...(words.length ? [choice] : []), count);
    const apply = () => {
      const wanted = input.value.trim().toLowerCase();
      rows.forEach((row) => {
        const verdict = row.querySelector(".verdict");
        const fits = !select.value || (verdict && verdict.textContent.trim() === select.value);
        row.hidden = !(fits && row.textContent.toLowerCase().includes(wanted));
      });
      count.textContent = `${rows.filter((row) => !row.hidden).length} of ${rows.length} rows`;
    };
    input.addEventListener("input", apply);
    select.addEventListener("change", apply);
    box.prepend(tools);
  };

  document.querySelectorAll(".sortable table").forEach(sortable);
  document.querySelectorAll(".filterable").forEach((box) => filterable(box, box.querySelector("table")));

  if (document.querySelector(".in-us")) {
    const page = document.documentElement;
    const names = { metric: "metric", us: "US customary" };
    const button = make("button", "", { type: "button", class: "switch" });
    const tell = () => {
      const other = page.dataset.units === "us" ? "metric" : "us";
      button.textContent = `Tables in ${names[other]} units`;
      button.dataset.to = other;
    };
    button.addEventListener("click", () => {
      page.dataset.units = button.dataset.to;
      tell();
    });
    tell();
    document.querySelector("nav").append(button);
  }

  const links = new Map([...document.querySelectorAll("nav a")].map((a) => [a.hash.slice(1), a]));
  const seen = new IntersectionObserver(
    (entries) => entries.filter((entry) => entry.isIntersecting).forEach((entry) => {
      links.forEach((link) => link.removeAttribute("aria-current"));
      links.get(entry.target.id)?.setAttribute("aria-current", "location");
    }),
    { rootMargin: "-15% 0px -75% 0px" },
  );
  document.querySelectorAll("main > section").forEach((section) => seen.observe(section));

  addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
})();
