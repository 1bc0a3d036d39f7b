"use strict";
// The dose card. Everything it says was worked out before and lies in the table of the page; here
// it is only looked up. What was answered lives in the address behind "#", and nowhere else.
(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const data = read("page-data");
  const words = read("page-words");
  const us = data.units === "us";
  const VOLUME = us ? { litres: 3.785411784, unit: words.gallon } : { litres: 1, unit: words.litre };
  const LENGTH = us ? { cm: 2.54, unit: words.inch } : { cm: 1, unit: words.cm };
  const JUG = us ? { litres: 0.946352946, unit: words.quart } : { litres: 1, unit: words.litre };
  const CAME = 5; // colours to press
  const LOCALE = data.language === "en" ? (us ? "en-US" : "en-GB") : data.language;

  // ---- looking up -----------------------------------------------------------------------------

  /** Nodes on both sides of x and the share of the way between them; null outside of them. */
  function cell(nodes, x) {
    const last = nodes.length - 1;
    if (!(x >= nodes[0] && x <= nodes[last])) return null;
    const high = nodes.findIndex((node) => node >= x);
    const low = nodes[high] === x ? high : high - 1;
    return { low, high, share: low === high ? 0 : (x - nodes[low]) / (nodes[high] - nodes[low]) };
  }
  const within = (nodes, x) => cell(nodes, Math.min(Math.max(x, nodes[0]), nodes[nodes.length - 1]));
  const between = (values, at) => values[at.low] + at.share * (values[at.high] - values[at.low]);
  const least = (values, at) => Math.min(values[at.low], values[at.high]);

  /** Whole steps of a size that are within an amount; a billionth is the machine's own rounding. */
  const steps = (amount, size) => Math.max(Math.floor(amount / size + 1e-9), 0);
  /** Grams rounded down to what a scale or a spoon shows: 0.1 g below 5 g, else 1 g. */
  const down = (grams) => (grams >= 5 ? Math.floor(grams + 1e-9) : steps(grams, 0.1) / 10);
  /** As `down`, in whole sachets where the product is one of sachets. */
  const measured = (grams) => (data.sachet_g ? steps(grams, data.sachet_g) * data.sachet_g : down(grams));

  /** The most that may be poured in all [g]: of the two nearest fills the one that allows less. */
  function limit(row, litres, who) {
    const at = cell(data.litres, litres);
    return at ? measured(least(data.limit[who][row], at)) : 0;
  }

  /** What to do at a reading, a fill and who bathes; `why` says why nothing is to be poured. */
  function answer(water, fill, who) {
    const none = (why) => ({ why, portion: 0, times: 0, dose: 0, most: 0, more: 0 });
    const at = cell(data.litres, fill.litres);
    const row = water.row;
    if (!at) return none("outside");
    if (water.zero) return none("zero");
    if (who === "child" && water.by === "none") return none("needs-reading");
    const doses = data.dose[who][row];
    if (!(least(doses, at) > 0)) {
      const codes = data.why[who][row];
      return none((doses[at.low] > 0 ? codes[at.high] : codes[at.low]) || "nothing-safe");
    }
    const allowed = least(data.limit[who][row], at);
    const of = (table) => [data[table][who][row][at.low], data[table][who][row][at.high]];
    const whole = measured(Math.min(between(doses, at), allowed));
    if (!(whole > 0)) return none(data.sachet_g ? "sachet" : "nothing-safe");
    // Sachets are opened one by one; what is weighed goes in portions where the engine says so.
    const parted = !data.sachet_g && Math.max(...of("portions")) > 1;
    const portion = data.sachet_g ? data.sachet_g : parted ? Math.min(whole, down(Math.min(...of("first")))) : whole;
    if (!(portion > 0)) return none("nothing-safe");
    const times = steps(whole, portion);
    const dose = times * portion;
    const most = measured(allowed);
    // How far the sides lie from the pH of the tub as read: they move with it when less is poured.
    const away = (table) => [at.low, at.high].map((k) => data[table][who][row][k] - ph(row, data.litres[k], doses[k]));
    const here = ph(row, fill.litres, dose);
    return {
      why: "", portion, times, dose, most,
      more: measured(Math.min(...of("more"), most - dose)),
      chance: Math.min(...of("chance")),
      // To a tenth outwards, as a plan tells it.
      range: [Math.floor(10 * (here + Math.min(...away("ph_low")))) / 10, Math.ceil(10 * (here + Math.max(...away("ph_high")))) / 10],
    };
  }

  /** pH of the tub after some grams of activator. */
  function ph(row, litres, grams) {
    const at = within(data.litres, litres);
    const dose = within(data.ph.grams_per_litre[row], grams / litres);
    const table = data.ph.rows[row];
    return between([between(table[at.low], dose), between(table[at.high], dose)],
      { low: 0, high: 1, share: at.share });
  }

  const toLinear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const fromLinear = (v) => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
  const channels = (hex) => [1, 3, 5].map((i) => toLinear(parseInt(hex.slice(i, i + 2), 16) / 255));
  const brightness = (hex) => channels(hex).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);

  /** Where a tub lies in the table of colours: among its pH, and among strength times depth. */
  function seenAt(acidity, fill) {
    const depth = fill.depth || (1000 * fill.litres) / data.area_cm2;
    return [within(data.colour.ph, acidity), within(data.colour.strength_depth, (data.strength_total / fill.litres) * depth)];
  }
  /** Colour of the tub in words: those of the nearest place in the table. */
  function phrase(acidity, fill) {
    const [i, j] = seenAt(acidity, fill).map((at) => (at.share < 0.5 ? at.low : at.high));
    return data.colour.words[i][j];
  }
  /** Colour of the tub at a pH, "#rrggbb". */
  function colour(acidity, fill) {
    const [at, strength] = seenAt(acidity, fill);
    const corner = (i, j) => channels(data.colour.hex[i][j]);
    const corners = [[at.low, strength.low], [at.low, strength.high], [at.high, strength.low], [at.high, strength.high]];
    const [a, b, c, d] = corners.map(([i, j]) => corner(i, j));
    return "#" + [0, 1, 2].map((k) => {
      const [low, high] = [[a[k], b[k]], [c[k], d[k]]].map(([x, y]) => x + strength.share * (y - x));
      return Math.round(255 * fromLinear(low + at.share * (high - low))).toString(16).padStart(2, "0");
    }).join("");
  }

  // ---- what was answered: the address ------------------------------------------------------------

  const address = () => Object.fromEntries(new URLSearchParams(location.hash.slice(1)));

  function go(changes) {
    const next = new URLSearchParams({ ...address(), ...changes });
    Object.keys(changes).forEach((key) => changes[key] === null && next.delete(key));
    history.pushState(null, "", "#" + next);
    draw(true);
  }

  /** A number as people type it, with a point or a comma; NaN if it is none. */
  const typed = (text) => (/^\s*\d+([.,]\d*)?\s*$/.test(text) ? Number(text.replace(",", ".")) : NaN);

  /** The reading in an address: its row of the tables, and what to call it; null if there is none. */
  function waterOf(state) {
    const { strip, drops, none } = data.readings;
    const pad = strip.find((one) => one.label === state.strip);
    if (pad) return { row: pad.row, by: "strip", zero: Number(pad.label) === 0, text: say("read_strip", { ppm: pad.label }) };
    const count = /^\d+$/.test(state.drops || "") ? Number(state.drops) : NaN;
    if (count < drops.rows.length) {
      return { row: drops.rows[count], by: "drops", zero: count === 0, text: say("drop", { count }) };
    }
    const guess = none.find((one) => one.key === state.none);
    return guess ? { row: guess.row, by: "none", zero: false, text: say("read_none", { word: words[guess.key] }) } : null;
  }

  /** The fill in an address: litres and, where it was measured, depth; null if there is none. */
  function fillOf(state) {
    const mark = data.marks.find((one) => one.name === state.mark);
    if (mark) return { litres: mark.litres, share: mark.share, text: named(mark) };
    const sides = (state.size || "").split("x").map(typed);
    if (sides.length === 3 && sides.every((side) => side > 0)) {
      const litres = (data.measured_share * sides[0] * sides[1] * sides[2]) / 1000;
      return { litres, depth: sides[2], text: volume(litres) };
    }
    const litres = typed(state.litres || "");
    return litres > 0 ? { litres, text: volume(litres) } : null;
  }

  const named = (mark) => words[`mark_${mark.name.replaceAll("-", "_")}`];
  const whoOf = (state) =>
    data.bathers.length === 1 ? data.bathers[0] : data.bathers.find((one) => one === state.who) || null;

  function today() {
    const now = new Date();
    const pad = (n) => String(n).padStart(2, "0");
    return `${now.getFullYear()}-${pad(now.getMonth() + 1)}-${pad(now.getDate())}`;
  }

  /** Why this card gives no dose at all, or nothing: a lot of another card, or a date. */
  function barred(state) {
    for (const key of ["lot", "edition"]) {
      if (state[key] !== undefined && state[key] !== data[key]) return say(`why_${key}`, { yours: `\u2068${state[key]}\u2069` });
    }
    // A clock a day behind is another time zone; one further behind cannot tell the date.
    if (Date.parse(today()) < Date.parse(data.made) - 864e5) return words.why_clock;
    if (data.use_by && today() > data.use_by) return say("why_past", { date: date(data.use_by) });
    return "";
  }

  // ---- words -----------------------------------------------------------------------------------

  const number = (x, digits = 0) =>
    new Intl.NumberFormat(LOCALE, { maximumFractionDigits: digits, useGrouping: false }).format(x);
  const fixed = (x) =>
    new Intl.NumberFormat(LOCALE, { minimumFractionDigits: 1, maximumFractionDigits: 1 }).format(x);
  const date = (iso) =>
    new Intl.DateTimeFormat(LOCALE, { dateStyle: "long", timeZone: "UTC" }).format(new Date(iso));
  const say = (key, values = {}) => words[key].replace(/\{(\w+)\}/g, (all, name) => (name in values ? values[name] : all));
  const volume = (litres) => `${number(litres / VOLUME.litres)}\u00a0${VOLUME.unit}`;

  function amount(grams) {
    if (!data.sachet_g) return say("grams", { n: number(grams, 1) });
    const count = Math.round(grams / data.sachet_g);
    return say(count === 1 ? "sachet" : "sachets", { n: count });
  }

  /** What is poured, and how often if more than once; sachets are counted. */
  const poured = (found) =>
    data.sachet_g || found.times === 1 ? amount(found.dose) : `${found.times} × ${amount(found.portion)}`;

  /** Level teaspoons in quarters, never more than given; empty below a quarter. */
  function spoons(quarters) {
    const whole = Math.floor(quarters / 4);
    const n = (whole || "") + ["", "¼", "½", "¾"][quarters % 4];
    return quarters > 0 ? say(quarters <= 4 ? "teaspoon" : "teaspoons", { n }) : "";
  }

  /** Each powder of a portion; spoons are counted as though they were packed as densely as they go. */
  function powders(grams) {
    return data.powder.map((one) => {
      const part = { amount: say("grams", { n: number(down(grams * one.share), 1) }), powder: one.label };
      const level = one.g_per_tsp ? spoons(steps(4 * grams * one.share, one.g_per_tsp)) : "";
      return level ? say("powder_spoons", { ...part, spoons: level }) : say("powder", part);
    });
  }

  // ---- drawing ---------------------------------------------------------------------------------

  const SVG = "http://www.w3.org/2000/svg";
  function put(node, attributes, children) {
    for (const [key, value] of Object.entries(attributes)) {
      if (key === "click") node.addEventListener("click", value);
      else if (value !== null && value !== false) node.setAttribute(key, value === true ? "" : value);
    }
    node.append(...children.flat(Infinity).filter((child) => child !== null && child !== ""));
    return node;
  }
  const h = (tag, attributes = {}, ...children) => put(document.createElement(tag), attributes, children);
  const s = (tag, attributes = {}, ...children) => put(document.createElementNS(SVG, tag), attributes, children);
  /** A sentence with one of its values as an element. */
  const rich = (key, name, node) => {
    const [before, after] = words[key].split(`{${name}}`);
    return [before, node, after];
  };
  const button = (label, click, attributes = {}) => h("button", { type: "button", click, ...attributes }, label);
  /** Black or white, whichever is read better on a water: at least 4.5 to 1. */
  const inkOn = (hex) => ((brightness(hex) + 0.05) ** 2 > 1.05 * 0.05 ? "#000000" : "#ffffff");

  /** Hatches of the caution levels, the heavier the denser; the last is where nobody may go. */
  const HATCHES = { mind: [16, false], justify: [8, false], stop: [8, true] };
  const hatches = (ink, of) => s("defs", {}, Object.entries(HATCHES).map(([level, [apart, crossed]]) =>
    s("pattern", { id: `${level}-${of}`, width: apart, height: apart, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      s("path", { d: `M0 0V${apart}${crossed ? `M0 0H${apart}` : ""}`, stroke: ink, fill: "none" }))));
  const hatched = (level, of) => (level in HATCHES ? `url(#${level}-${of})` : "none");
  const levelOf = (who, acidity) =>
    (data.level[who].find((one) => acidity >= one.ph_low && acidity <= one.ph_high) || { code: "stop" }).code;

  /** A tub in section, 320 wide and 150 high: one water, or two that touch. */
  function tub(waters, top, label, extra = [], level = "ok") {
    const [left, right, floor, corner] = [12, 308, 142, 40];
    const basin = `M${left} ${top}V${floor - corner}Q${left} ${floor} ${left + corner} ${floor}H${right - corner}Q${right} ${floor} ${right} ${floor - corner}V${top}Z`;
    const tall = floor - top;
    const wave = `M160 ${top}C190 ${top + 0.35 * tall} 130 ${top + 0.65 * tall} 160 ${floor}H${right}V${top}Z`;
    return s("svg", { viewBox: "0 0 320 150", role: "img", "aria-label": label, class: "tub" },
      s("defs", {}, s("clipPath", { id: "basin" }, s("path", { d: basin }))),
      s("path", { class: "wall", d: "M6 2V102Q6 148 52 148H268Q314 148 314 102V2H308V102Q308 142 268 142H52Q12 142 12 102V2Z" }),
      s("path", { class: "water", d: basin, fill: waters[0] }),
      waters[1] ? s("g", { "clip-path": "url(#basin)" }, hatches(inkOn(waters[1]), "tub"),
        s("path", { class: "after", d: wave, fill: waters[1] }), s("path", { d: wave, fill: hatched(level, "tub") }),
        s("path", { class: "meet", d: wave.split("H")[0] })) : null,
      s("path", { class: "line", d: basin }),
      s("path", { class: "waterline", d: `M${left} ${top}H${right}` }),
      extra);
  }

  /** The tide mark: colours along the grams with their pH, hatched by caution and past the most. */
  function tide(water, fill, who, found) {
    const [left, wide, last, count] = [12, 296, 1.2 * found.most, 48];
    const x = (grams) => left + (wide * grams) / last;
    const acidity = (grams) => ph(water.row, fill.litres, grams);
    const tint = (grams) => colour(acidity(grams), fill);
    const bands = Array.from({ length: count }, (_, i) => {
      const [from, middle] = [(i * last) / count, ((i + 0.5) * last) / count];
      const box = { x: x(from), y: 22, width: wide / count, height: 32 };
      const level = middle > found.most ? "stop" : levelOf(who, acidity(middle));
      return [s("rect", { ...box, fill: tint(middle), stroke: tint(middle) }), s("rect", { ...box, fill: hatched(level, "tide") })];
    });
    const tick = (grams, text, up) => [
      s("path", { class: "line", d: up ? `M${x(grams)} 15V54` : `M${x(grams)} 22V60` }),
      s("text", { x: x(grams), y: up ? 11 : 74, "text-anchor": grams === 0 ? "start" : "middle" }, text)];
    const acid = (grams) => s("text", { x: x(grams) + 4, y: 43, fill: inkOn(tint(grams)) }, (grams ? "" : "pH ") + fixed(acidity(grams)));
    return s("svg", { viewBox: "0 0 320 80", role: "img", "aria-label": say("tide", { most: amount(found.most) }), class: "tide" },
      hatches(inkOn(tint(found.most)), "tide"), bands, acid(0), acid(found.dose / 2),
      s("path", { class: "waterline", d: `M${left} 22H${left + wide}` }),
      tick(0, "0", false), tick(found.most, amount(found.most), false), tick(found.dose, amount(found.dose), true));
  }

  /** A glass of plain water, and the strip or the drops that go into it. */
  const glass = (way) => s("svg", { viewBox: "0 0 84 96", role: "img", "aria-label": words[`glass_${way}`], class: "glass" },
    s("path", { class: "plain-water", d: "M14 30H70L65 86Q64 90 60 90H24Q20 90 19 86Z" }),
    s("path", { class: "line", d: "M11 6L19 86Q20 90 24 90H60Q64 90 65 86L73 6" }),
    s("path", { class: "waterline", d: "M14 30H70" }),
    way === "drops"
      ? [2, 15].map((y) => s("path", { class: "wall", d: `M42 ${y}c5 6 4 10 0 10s-5 -4 0 -10` }))
      : s("g", { transform: "rotate(14 46 40)" },
        s("rect", { class: "wall", x: 41, y: -2, width: 9, height: 72 }),
        s("rect", { class: "pad", x: 42.5, y: 54, width: 6, height: 6 }),
        s("rect", { class: "pad", x: 42.5, y: 62, width: 6, height: 6 })));

  // ---- the questions -----------------------------------------------------------------------------

  const heading = (...text) => h("h2", { tabindex: -1 }, text);
  const other = (...ways) => h("div", { class: "others" }, ways.filter(Boolean));
  const pressed = (is) => ({ "aria-current": is ? "true" : null });

  function askWater(state, way) {
    const { strip, drops, none } = data.readings;
    const pick = (key, value) => () => go({ strip: null, drops: null, none: null, [key]: value, at: null, way: null });
    const highest = Math.max(...strip.map((pad) => Number(pad.label)));
    const turn = (to, key) => (to === way ? null : button(words[key], () => go({ at: "water", way: to })));
    const rows = {
      strip: () => h("ul", { class: "strip" }, strip.map((pad) => {
        const line = h("span", { class: "reach" });
        line.style.setProperty("--share", Number(pad.label) / highest);
        return h("li", {}, button([h("span", { class: "pad" }), h("span", { class: "figure" }, pad.label), h("small", {}, "ppm"), line],
          pick("strip", pad.label), pressed(state.strip === pad.label)));
      })),
      drops: () => h("ul", { class: "drops" }, drops.rows.map((_, count) =>
        h("li", {}, button(String(count), pick("drops", count), { "aria-label": say("drop", { count }), ...pressed(state.drops === String(count)) })))),
      none: () => h("ul", { class: "rows" }, none.map((one) =>
        h("li", {}, button(words[one.key], pick("none", one.key), pressed(state.none === one.key))))),
    };
    const how = { strip: words.strip_how, drops: say("drops_how", { ppm: number(drops.unit_ppm, 1) }), none: words.none_how };
    return [
      way === "none" ? "" : h("div", { class: "plainly" }, glass(way), h("div", {}, h("p", { class: "plain" }, words.plain), h("p", { class: "faint" }, words.plain_how))),
      h("div", {}, heading(words[`ask_${way}`]), h("p", { class: "faint" }, how[way]), rows[way](),
        other(turn("strip", "way_strip"), turn("drops", "way_drops"), turn("none", "way_none"))),
    ];
  }

  function askFill(state, way) {
    const pick = (changes) => go({ mark: null, litres: null, size: null, ...changes, at: null, way: null });
    const turn = (to, key) => (to === way ? null : button(words[key], () => go({ at: "fill", way: to })));
    const ways = other(
      turn("marks", "way_marks"),
      turn("volume", us ? "way_gallons" : "way_litres"),
      turn("measured", "way_measured"));
    if (way === "marks") {
      const highest = data.marks.slice().reverse();
      const vessel = h("div", { class: "vessel" }, h("span"), highest.map((mark) =>
        button([h("bdi", {}, named(mark)), h("small", {}, volume(mark.litres))], () => pick({ mark: mark.name }), pressed(state.mark === mark.name))));
      // Waterlines stand as high as they do in the tub, but for a finger's room between them.
      const tall = highest.map((mark, i) => mark.share - (highest[i + 1] || { share: 0 }).share);
      const rows = [1 - highest[0].share, ...tall].map((part, i) => `max(${i ? "3.25rem" : "1rem"}, ${16 * part}rem)`);
      vessel.style.setProperty("grid-template-rows", rows.join(" "));
      return [h("div", {}, heading(words.ask_fill), h("p", { class: "faint" }, say("marks_how", { full: volume(highest[0].litres / highest[0].share) })),
        vessel, ways)];
    }
    const sides = (state.size || "").split("x");
    const field = (key, unit, value) => h("label", {}, h("span", {}, words[key] || key),
      h("span", { class: "field" }, h("input", { inputmode: "decimal", autocomplete: "off", name: key, value, "aria-describedby": "wrong" }), unit));
    const fields = way === "volume"
      ? [field("volume", VOLUME.unit, state.litres ? number(typed(state.litres) / VOLUME.litres, 1) : "")]
      : ["length", "width", "depth"].map((key, i) => field(key, LENGTH.unit, sides[i] ? number(sides[i] / LENGTH.cm, 1) : ""));
    const wrong = h("p", { id: "wrong", class: "wrong", role: "alert" });
    const form = h("form", { novalidate: true }, fields, wrong, h("button", { class: "main" }, words.go_on));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const inputs = [...form.querySelectorAll("input")];
      const values = inputs.map((input) => typed(input.value));
      const bad = inputs.find((_, i) => !(values[i] > 0));
      inputs.forEach((input) => input.toggleAttribute("aria-invalid", input === bad));
      wrong.textContent = bad ? words.wrong_number : "";
      if (bad) bad.focus();
      else pick(way === "volume" ? { litres: plainly(values[0] * VOLUME.litres) } : { size: values.map((v) => plainly(v * LENGTH.cm)).join("x") });
    });
    return [h("div", {}, heading(way === "volume" ? words.ask_volume : words.ask_measured),
      h("p", { class: "faint" }, way === "volume" ? words.fill_how : words.measured_how), form, ways)];
  }
  const plainly = (x) => String(Number(x.toFixed(2)));

  function askWho(state, water, fill) {
    const before = ph(water.row, fill.litres, 0);
    return [tub([colour(before, fill)], 24 + 70 * (1 - (fill.share || 0.75)), `pH ${fixed(before)}`),
      h("div", {}, heading(words.ask_who), h("ul", { class: "rows" }, data.bathers.map((who) =>
        h("li", {}, button([words[who], who === "child" ? h("small", {}, words.child_how) : ""], () => go({ who, at: null, way: null }), pressed(state.who === who))))))];
  }

  // ---- the answer ------------------------------------------------------------------------------

  const stop = (why) => [h("div", { class: "stop" }, heading(words.nothing), h("p", {}, why))];

  function whyNot(found) {
    const [low, high] = [data.litres[0], data.litres[data.litres.length - 1]];
    return say(`why_${found.why.replaceAll("-", "_")}`, { low: volume(low), high: volume(high) });
  }

  /** The tub before and after, with both pH on it. */
  function picture(water, fill, who, found) {
    const [before, after] = [0, found.dose].map((grams) => ph(water.row, fill.litres, grams));
    const waters = [before, after].map((acidity) => colour(acidity, fill));
    const label = (x, i, word, acidity) => s("text", { class: "in-water", x, y: 62, "text-anchor": "middle", fill: inkOn(waters[i]) },
      s("tspan", { x }, word), s("tspan", { x, dy: 26, class: "ph" }, `pH ${fixed(acidity)}`));
    const said = say("seen", { before: `${phrase(before, fill)}, pH ${fixed(before)}`, after: `${phrase(after, fill)}, pH ${fixed(after)}` });
    return h("div", { class: "picture" },
      tub(waters, 20, said, [label(84, 0, phrase(before, fill), before), label(236, 1, phrase(after, fill), after)], levelOf(who, after)),
      tide(water, fill, who, found));
  }

  function pouringSteps(found) {
    const litres = Math.max(Math.ceil(2 * data.jug_l_per_g * found.portion / JUG.litres) / 2, 0.5);
    const lines = [say("first_in", { what: data.first_in.join(", ") }), say("jug", { jug: `${number(litres, 1)}\u00a0${JUG.unit}` }),
      say("empty", { n: data.stir_min }), say("wait", { n: data.wait_min })];
    return h("ol", {}, lines.map((line) => h("li", {}, h("bdi", {}, line))));
  }

  function tooSour(found) {
    const grams = Math.ceil((found.dose + found.more) * data.undo_soda_g_per_g);
    const level = spoons(Math.ceil((4 * grams) / data.undo_soda_g_per_tsp));
    return say("undo", { soda: say("grams", { n: number(grams) }), spoons: level });
  }

  function show(water, fill, who) {
    const found = answer(water, fill, who);
    if (found.why) return stop(whyNot(found));
    const cautions = data.cautions.filter((one) => one.bathers.includes(who));
    const barring = (one) => one.code.startsWith("bathers") || one.code === "child-under-three";
    const list = (title, lines) => (lines.length ? [h("h3", {}, title), h("ul", { class: "cautions" }, lines.map((one, i) =>
      // A level is read aloud of each, and shown where it changes.
      h("li", { class: one.level }, h("strong", { class: lines[i - 1]?.level === one.level ? "unseen" : null }, words[`level_${one.level}`], ": "), h("bdi", {}, one.text))))] : []);
    const mind = [list(words.mind_this, cautions.filter((one) => !barring(one))), list(words.not_for, cautions.filter(barring))];
    const parts = found.times === 1 ? "" : data.sachet_g ? words.one_by_one : words.in_portions;
    return [picture(water, fill, who, found), h("div", { class: "answer" },
      h("h2", { tabindex: -1, class: "dose" }, rich("pour", "amount", h("strong", {}, poured(found)))),
      data.sachet_g ? "" : h("ul", { class: "powders" }, powders(found.portion).map((line) => h("li", {}, h("bdi", {}, line)))),
      parts ? h("p", { class: "parts" }, parts) : "",
      h("p", { class: "never" }, say("never_more", { amount: amount(found.most) })),
      h("p", { class: "faint" }, say("chance", { n: Math.floor(10 * found.chance), low: fixed(found.range[0]), high: fixed(found.range[1]) })),
      h("h3", {}, words.how), pouringSteps(found),
      h("h3", {}, words.not_turned), h("p", {}, found.more > 0 ? say("once_more", { amount: amount(found.more) }) : words.no_more),
      h("h3", {}, words.too_sour), h("p", {}, tooSour(found)),
      data.directions.length ? [h("h3", {}, words.from_maker), data.directions.map((line) => h("p", {}, h("bdi", {}, line)))] : [],
      cameOut(water, fill, found)),
      h("div", { class: "minds" }, mind)];
  }

  /** Colours to press once it has turned: each gives the line that the maker's book takes (huedose book add). */
  function cameOut(water, fill, found) {
    const [state, place] = [address(), h("div", {})];
    const read = { strip: `pad=${state.strip}`, drops: `drops=${state.drops} drop_ppm=${data.readings.drops.unit_ppm}`, none: `town=${state.none}` }[water.by];
    const lot = /^[\w.-]+$/.test(data.lot || "") ? [`lot=${data.lot}`] : [];
    const [first, last] = [0, 1.2 * found.most].map((grams) => ph(water.row, fill.litres, grams));
    const swatch = (_, i) => {
      const acidity = first + (i / (CAME - 1)) * (last - first);
      const hex = colour(acidity, fill);
      const press = (event) => {
        const line = ["soak", today(), ...lot, `litres=${plainly(fill.litres)}`, read, `grams=${plainly(found.dose)}`, `came=${hex}`].join(" ");
        const field = h("input", { autocomplete: "off", value: line });
        swatches.querySelectorAll("button").forEach((one) => one.toggleAttribute("aria-current", one === event.currentTarget));
        place.replaceChildren(h("label", {}, h("span", {}, words.came_line), field));
        field.select();
      };
      const one = button("", press, { "aria-label": `${phrase(acidity, fill)}, pH ${fixed(acidity)}` });
      one.style.setProperty("background", hex);
      return h("li", {}, one);
    };
    const swatches = h("ul", { class: "drops" }, Array.from({ length: CAME }, swatch));
    return h("div", { class: "came" }, h("h3", {}, words.came), h("p", {}, words.came_how), swatches, place);
  }

  /** The answer in one breath, for who listens. */
  function aloud(found) {
    if (found.why) return `${words.nothing}. ${whyNot(found)}`;
    return [say("pour", { amount: poured(found) }) + ".", say("never_more", { amount: amount(found.most) }),
      ...(data.sachet_g ? [] : powders(found.portion).map((line) => line + "."))].join(" ");
  }

  // ---- the page --------------------------------------------------------------------------------

  function trail(water, fill, who, at) {
    const links = [["water", water && water.text], ["fill", fill && fill.text], ["who", data.bathers.length > 1 && who && words[`trail_${who}`]]];
    const answered = links.filter(([key, text]) => text && key !== at);
    return answered.length ? h("nav", { "aria-label": words.trail }, answered.map(([key, text]) =>
      button([h("small", {}, words[`trail_${key}`]), h("bdi", {}, text)], () => go({ at: key, way: null }),
        { "aria-label": say("change", { what: `${words[`trail_${key}`]}, ${text}` }) }))) : "";
  }

  function draw(moved) {
    const state = address();
    const [water, fill, who] = [waterOf(state), fillOf(state), whoOf(state)];
    const asks = { water: !water, fill: !fill, who: !who };
    const bar = barred(state);
    const wanted = state.at === "who" && !(water && fill) ? "" : state.at;
    const at = Object.hasOwn(asks, wanted) ? wanted : Object.keys(asks).find((key) => asks[key]) || "answer";
    const ways = { water: ["strip", "drops", "none"], fill: ["marks", "volume", "measured"] }[at] || [];
    const usual = at === "water" ? (water ? water.by : "strip") : !fill || state.mark ? "marks" : state.size ? "measured" : "volume";
    const way = ways.includes(state.way) ? state.way : usual;
    const parts = bar ? stop(bar)
      : at === "water" ? askWater(state, way)
      : at === "fill" ? askFill(state, way)
      : at === "who" ? askWho(state, water, fill)
      : show(water, fill, who);
    const order = Object.keys(asks).filter((key) => key !== "who" || data.bathers.length > 1);
    const earlier = at === "answer" ? order.at(-1) : order[order.indexOf(at) - 1];
    const none = { strip: null, drops: null, none: null, mark: null, litres: null, size: null, who: null, at: null, way: null };
    const ends = bar || !earlier ? "" : h("div", { class: "ends" }, button(words.back, () => go({ at: earlier, way: null })),
      at === "answer" ? button(words.again, () => go(none)) : "");
    const page = document.getElementById("page");
    page.className = bar ? "barred" : at;
    page.replaceChildren(...[bar ? "" : trail(water, fill, who, at), h("section", {}, parts), ends].filter(Boolean));
    document.getElementById("said").textContent = bar ? `${words.nothing}. ${bar}` : at === "answer" ? aloud(answer(water, fill, who)) : "";
    if (moved) {
      page.querySelector("h2").focus({ preventScroll: true });
      scrollTo(0, 0);
    }
  }

  if (/^#[0-9a-f]{6}$/i.test(data.accent)) document.documentElement.style.setProperty("--accent", data.accent);
  document.querySelectorAll("time").forEach((one) => (one.textContent = one.textContent.replace(one.dateTime, date(one.dateTime))));
  addEventListener("hashchange", () => draw(true));
  draw(false);
  window.card = Object.freeze({ data, limit, answer, ph, colour, waterOf, fillOf, measured, powders, inkOn });
})();
