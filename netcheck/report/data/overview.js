"use strict";
/* Renders what is asked for, a page of rows at a time, from the data beside it. Everything that a device said goes into
   the document as text (textContent, setAttribute on our own names), never as markup. The address behind the # holds
   what is shown, so that back, forward and a link to one device work. */
(function () {
  const PAGE = 100, PRINTED = 2000;
  const get = (id) => document.getElementById(id);
  const state = { kind: "", site: "", words: "", sort: "kind", page: 1, device: "" };
  const compare = new Intl.Collator("en", { numeric: true, sensitivity: "base" }).compare;
  let fleet, rows, byKey, shown = [], opener = null;

  function el(tag, attributes, ...inside) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
    }
    made.append(...inside.filter((each) => each !== ""));
    return made;
  }
  const said = (text) => el("bdi", {}, text);
  const number = (value) => value.toLocaleString("en");

  function load() {
    fleet = JSON.parse(get("fleet").textContent);
    const text = (index) => fleet.texts[index];
    rows = fleet.rows.map(([key, host, site, kind, model, firmware, lowest, gist, ...rest]) => ({
      key, host, site: text(site), kind: fleet.kinds[kind][0], order: kind, model: text(model),
      firmware: text(firmware), lowest, gist: text(gist), rest,
    }));
    byKey = new Map(rows.map((row) => [row.key, row]));
  }

  function kindOf(name) {
    const [, word, shape] = fleet.kinds.find((each) => each[0] === name);
    return el("span", { class: "kind " + name }, el("i", { "aria-hidden": "true" }, shape), " " + word);
  }

  /* What is shown */

  function address(changes) {
    const next = { ...state, device: "", ...changes };
    const parts = Object.entries(next).filter(([name, value]) =>
      value && !(name === "page" && value === 1) && !(name === "sort" && value === "kind"));
    return "#" + parts.map(([name, value]) => name + "=" + encodeURIComponent(value)).join("&");
  }

  function read() {
    const asked = new Map(location.hash.slice(1).split("&").filter(Boolean).map((part) => {
      const at = part.indexOf("=");
      return at < 0 ? [part, ""] : [part.slice(0, at), decoded(part.slice(at + 1))];
    }));
    const names = Object.keys(state).filter((name) => asked.has(name));
    if (location.hash.length > 1 && !names.length) return;  /* a plain anchor */
    if (names.length === 1 && names[0] === "device") {
      state.device = asked.get("device");
      return;
    }
    Object.assign(state, { kind: "", site: "", words: "", sort: "kind", page: 1, device: "" });
    for (const name of names) state[name] = asked.get(name);
    state.page = Math.max(1, parseInt(state.page, 10) || 1);
  }

  function decoded(text) {
    try { return decodeURIComponent(text); } catch { return text; }
  }

  function haystack(row) {
    const [serial, mac, ownAddress, , , , , queue, notes, asset, , , , findings] = row.rest;
    row.hay ??= [row.key, row.host, row.site, row.model, row.firmware, row.gist, serial, mac, ownAddress, asset,
      fleet.texts[queue], fleet.texts[notes], ...findings.map((each) => fleet.texts[fleet.findings[each][1]])]
      .join("\n").toLowerCase();
    return row.hay;
  }

  function choose() {
    const words = state.words.toLowerCase().split(/\s+/).filter(Boolean);
    const site = state.site.toLowerCase();
    const exact = rows.some((row) => row.site === state.site);
    shown = rows.filter((row) =>
      (!state.kind || row.kind === state.kind) &&
      (!site || (exact ? row.site === state.site : row.site.toLowerCase().includes(site))) &&
      words.every((word) => haystack(row).includes(word)));
    const down = state.sort.startsWith("-"), by = state.sort.replace("-", "");
    const value = { kind: (row) => row.order, lowest: (row) => row.lowest ?? 101 }[by];
    if (by !== "kind" || down) {
      shown.sort((a, b) => (down ? -1 : 1) * (value ? value(a) - value(b) : compare(a[by] ?? "", b[by] ?? "")));
    }
  }

  function rowOf(row) {
    const link = el("a", { href: address({ device: row.key }), "data-key": row.key }, row.host);
    return el("tr", {},
      el("td", {}, kindOf(row.kind)), el("th", { scope: "row" }, link), el("td", {}, row.site),
      el("td", { class: "cut" }, row.model), el("td", { class: "cut" }, row.firmware),
      el("td", { class: "number" }, row.lowest === null ? "" : row.lowest + " %"), el("td", {}, row.gist));
  }

  function table(all) {
    const pages = Math.max(1, Math.ceil(shown.length / PAGE));
    state.page = Math.min(state.page, pages);
    const start = all ? 0 : (state.page - 1) * PAGE;
    const part = shown.slice(start, start + (all ? PRINTED : PAGE));
    get("rows").replaceChildren(...part.map(rowOf));
    get("found").textContent = number(shown.length) + (shown.length === 1 ? " device" : " devices") +
      (all && shown.length > PRINTED ? ", the first " + number(PRINTED) + " printed" : "");
    get("pages").hidden = pages === 1;
    get("where").textContent = part.length ?
      number(start + 1) + " to " + number(start + part.length) + " of " + number(shown.length) : "";
    get("back").disabled = state.page === 1;
    get("on").disabled = state.page === pages;
    for (const head of document.querySelectorAll("[data-sort]")) {
      head.removeAttribute("aria-sort");
      if (state.sort === head.dataset.sort) head.setAttribute("aria-sort", "ascending");
      if (state.sort === "-" + head.dataset.sort) head.setAttribute("aria-sort", "descending");
    }
  }

  function show() {
    for (const [id, name] of [["words", "words"], ["kind", "kind"], ["site", "site"]]) {
      if (get(id).value !== state[name]) get(id).value = state[name];
    }
    choose();
    table(false);
    device();
  }

  function go(changes) {
    Object.assign(state, { page: 1, device: "" }, changes);
    history.replaceState(null, "", address({}));
    show();
  }

  /* All sites, those with most to look at first; as many as a browser shows without effort. */
  function allSites() {
    const kinds = get("sites-table").dataset.kinds.split(" "), counts = new Map();
    for (const row of rows) {
      if (!counts.has(row.site)) counts.set(row.site, new Map());
      counts.get(row.site).set(row.kind, (counts.get(row.site).get(row.kind) || 0) + 1);
    }
    const worse = ([a, as], [b, bs]) =>
      kinds.map((kind) => (bs.get(kind) || 0) - (as.get(kind) || 0)).find(Boolean) || compare(a, b);
    const sorted = [...counts].sort(worse);
    get("sites-table").tBodies[0].replaceChildren(...sorted.slice(0, PRINTED).map(([site, found]) => {
      const name = site ? el("a", { href: "#site=" + encodeURIComponent(site) }, said(site)) : "(no site named)";
      const total = [...found.values()].reduce((sum, each) => sum + each, 0);
      return el("tr", {}, el("th", { scope: "row" }, name), el("td", { class: "number" }, number(total)),
        ...kinds.map((kind) => el("td", { class: "number" }, found.has(kind) ? number(found.get(kind)) : "")));
    }));
    const left = sorted.length - PRINTED;
    get("all-sites").replaceWith(el("p", {}, left > 0 ? number(left) + " more: filter the devices by site" : ""));
  }

  /* One device */

  function device() {
    const panel = get("device"), row = byKey.get(state.device);
    if (!row) {
      if (panel.open) panel.close();
      return;
    }
    panel.replaceChildren(...deviceParts(row));
    if (!panel.open) panel.showModal();
    panel.scrollTop = 0;
  }

  function pairs(entries) {
    const list = el("dl");
    for (const [name, value] of entries) {
      if (value !== "" && value !== null) list.append(el("dt", {}, name), el("dd", {}, value));
    }
    return list;
  }

  function deviceParts(row) {
    const T = fleet.texts;
    const [serial, mac, ownAddress, at, took, gate, standard, queue, notes, asset, fault, fine, supplies, findings] =
      row.rest;
    const close = el("button", { class: "close", type: "button", autofocus: true }, "Close");
    close.addEventListener("click", () => get("device").close());
    const parts = [close, el("h2", { id: "device-name" }, said(row.host)), el("p", {}, kindOf(row.kind)),
      pairs([["Site", row.site], ["Queue", T[queue]], ["Model", row.model], ["Serial number", serial],
        ["Asset", asset], ["Firmware", row.firmware], ["Calls itself", ownAddress], ["Hardware", mac],
        ["Asked", at + " UTC, took " + number(took) + " ms"],
        ["Asked what", T[gate] + (T[standard] ? ", by “" + T[standard] + "”" : ", by no Standard")],
        ["Notes", T[notes]], ["No verdict", T[fault]]])];
    if (supplies.length) parts.push(el("h3", {}, "Supplies"), supplyTable(supplies));
    for (const [standing, heading] of fleet.standings) {
      const found = findings.map((index) => fleet.findings[index]).filter((each) => each[0] === standing);
      if (!found.length) continue;
      const roots = found.filter((each) => each[7]), follow = found.filter((each) => !each[7]);
      parts.push(el("h3", {}, heading), ...roots.map(finding));
      if (follow.length) {
        parts.push(el("details", {}, el("summary", {}, number(follow.length) + " more that follow from others"),
          el("ul", { class: "follow" }, ...follow.map((each) => el("li", {}, said(T[each[1]]))))));
      }
    }
    parts.push(el("h3", {}, "Fine"), el("p", {}, number(fine) + (fine === 1 ? " requirement" : " requirements")));
    if (fleet.command) {
      parts.push(el("h3", {}, "The saved case"),
        el("code", { class: "command" }, fleet.command.replace(/('KEY'|KEY)(?!.*KEY)/, () => quoted(row.key))));
    }
    return parts;
  }

  function supplyTable(supplies) {
    const body = el("tbody");
    for (const [name, percent] of supplies) {
      const level = percent === null ? "not told" : percent + " %";
      const bar = percent === null ? "" :
        el("meter", { min: 0, max: 100, value: percent, "aria-label": fleet.texts[name] }, level);
      body.append(el("tr", {}, el("td", {}, said(fleet.texts[name])), el("td", {}, bar),
        el("td", { class: "number" }, level)));
    }
    return el("table", { class: "supplies" }, body);
  }

  function finding([, title, detail, doing, caution, sources, id]) {
    const T = fleet.texts;
    return el("div", { class: "finding" }, el("p", {}, said(T[title])),
      pairs([["because", T[detail]], ["do", T[doing]], ["careful", T[caution]], ["seen", T[sources]],
        ["more", el("code", {}, "netcheck explain " + T[id])]]));
  }

  /* For a shell, since it will be pasted into one. */
  function quoted(key) {
    return /^[\w@%+=:,./-]+$/.test(key) ? key : "'" + key.replaceAll("'", "'\\''") + "'";
  }

  /* The page */

  function prepare() {
    for (const head of document.querySelectorAll("[data-sort]")) {
      const by = head.dataset.sort, button = el("button", { type: "button" }, head.textContent);
      head.replaceChildren(button);
      button.addEventListener("click", () => go({ sort: state.sort === by ? "-" + by : by }));
    }
    const sites = [...new Set(rows.map((row) => row.site))].filter(Boolean).sort(compare).slice(0, 500);
    get("site-names").append(...sites.map((site) => el("option", { value: site })));
    let wait = 0;
    for (const name of ["words", "kind", "site"]) {
      get(name).addEventListener("input", () => {
        clearTimeout(wait);
        wait = setTimeout(() => go({ [name]: get(name).value }), 80);
      });
    }
    get("clear").addEventListener("click", () => go({ kind: "", site: "", words: "", sort: "kind" }));
    get("back").addEventListener("click", () => turn(-1));
    get("on").addEventListener("click", () => turn(1));
    get("device").addEventListener("close", closed);
    get("device").addEventListener("click", (event) => { if (event.target === get("device")) get("device").close(); });
    document.addEventListener("click", (event) => { opener = event.target.closest?.("a[href^='#']") ?? opener; });
    addEventListener("hashchange", followed);
    addEventListener("beforeprint", () => table(true));
    addEventListener("afterprint", () => table(false));
    if (get("all-sites")) {
      get("all-sites").addEventListener("click", allSites);
      get("all-sites").hidden = false;
    }
    get("tools").hidden = false;
    get("reduced").remove();
  }

  /* A link to some of the devices leads to them; one to a single device opens it where the reader is. */
  function followed() {
    read();
    show();
    if (!state.device && (state.kind || state.site)) get("devices").scrollIntoView();
  }

  function turn(by) {
    const focused = document.activeElement;
    go({ page: state.page + by });
    get("devices").scrollIntoView();
    if (focused.disabled) get(by > 0 ? "back" : "on").focus();
  }

  function closed() {
    if (!state.device) return;
    const key = state.device;
    go({ page: state.page });
    const again = opener?.isConnected ? opener :
      [...document.querySelectorAll("a[data-key]")].find((link) => link.dataset.key === key);
    again?.focus();
  }

  /* After the first paint: what is needed first is in the document already. */
  setTimeout(() => { load(); prepare(); read(); show(); }, 0);
})();
