"use strict";
// The maker's board. pH is looked up in a table that the engine solved; colour is worked out from
// the spectra of the recipe's colours. Where the sliders stand lives behind "#", and nowhere else.
(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const data = read("page-data");
  const words = read("page-words");
  const us = data.units === "us";
  const LOCALE = data.language === "en" ? (us ? "en-US" : "en-GB") : data.language;
  /** US measures of a unit, the largest first: what each holds, and its name. */
  const US = { L: [[3.785411784, words.gallon]], mL: [[236.5882365, words.cups], [4.92892159375, words.teaspoons]], g: [[28.349523125, words.ounce]] };
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const floats = (text) => new Float32Array(bytes(text).buffer);

  // ---- the bath: pH from the table ---------------------------------------------------------------

  const acidity = data.acidity;
  const charges = { own: floats(acidity.own), usual: floats(acidity.usual) };
  const [last, doses] = [data.ph.length - 1, acidity.dose_g_kg];
  const NEUTRAL = data.ph.indexOf(acidity.neutral_ph);

  /** Nodes on both sides of x, which is held within them, and the share of the way between them. */
  function within(nodes, x) {
    let low = 0;
    while (low < nodes.length - 2 && nodes[low + 1] <= x) low += 1;
    const high = Math.min(low + 1, nodes.length - 1);
    const share = high === low ? 0 : (x - nodes[low]) / (nodes[high] - nodes[low]);
    return { low, high, share: Math.min(Math.max(share, 0), 1) };
  }

  /** A tub with some amounts of the colours: its charges by dose and pH, before any activator. */
  function bathOf(home, amounts) {
    const colours = data.colours.map((colour, i) => ({ ...colour, amount: amounts[i] }));
    const poured = (part) => colours.reduce((sum, colour) => sum + colour[part] * colour.amount, 0);
    const total = home.litres + acidity.foam_l + poured("litres");
    const kg = total * acidity.density_kg_l;
    const acid = poured("acid_mol") / kg;
    const water = within(acidity.alkalinity_ppm, (home.ppm * home.litres) / total);
    const table = charges[home.water];
    const wide = last + 1;
    const size = doses.length * wide;
    const charge = new Float64Array(size);
    for (let i = 0; i < size; i += 1) {
      const [low, high] = [table[water.low * size + i], table[water.high * size + i]];
      charge[i] = low + water.share * (high - low) + acidity.foam[i % wide] / total - acid;
    }
    return { charge, kg, total, depth: (1000 * home.litres) / home.area, strengths: colours.map((one) => (one.strength * one.amount) / total) };
  }

  /** Charge of the bath with some grams, held at a node of pH [mol/kg]. */
  function chargeAt(bath, grams) {
    const dose = within(doses, grams / bath.kg);
    const [low, high] = [dose.low, dose.high].map((g) => g * (last + 1));
    return (p) => bath.charge[low + p] + dose.share * (bath.charge[high + p] - bath.charge[low + p]);
  }

  /** pH of the bath with some grams of activator: where its charge is 0. */
  function phOf(bath, grams) {
    const charge = chargeAt(bath, grams);
    let [low, high] = [0, last];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (charge(middle) >= 0) low = middle;
      else high = middle;
    }
    const [above, below] = [charge(low), charge(high)];
    const share = Math.min(Math.max(above / (above - below), 0), 1);
    return data.ph[low] + share * (data.ph[high] - data.ph[low]);
  }

  /** Strong base that takes the bath to neutral [meq/L]. */
  const reserveOf = (bath, grams) => (-1000 * chargeAt(bath, grams)(NEUTRAL) * bath.kg) / bath.total;

  const LEVELS = ["ok", "mind", "justify", "stop"];
  /** The heavier of the levels of a pH and of an acid reserve. */
  function levelOf(ph, reserve) {
    const band = data.limits.level.find((one) => ph >= one.ph_low && ph <= one.ph_high);
    const codes = [band ? band.code : "stop", ...data.limits.reserve.filter(([limit]) => reserve > limit).map(([, code]) => code)];
    return LEVELS[Math.max(...codes.map((code) => LEVELS.indexOf(code)))];
  }

  // ---- the eye: colour from spectra ----------------------------------------------------------------

  const { sight } = data;
  const wavelengths = sight.weights.length;
  const shares = data.colours.map((colour) => floats(colour.shares));
  const wordBytes = bytes(sight.words);

  /** Absorbance per cm of a bath at a pH, by wavelength. */
  function absorbance(bath, ph) {
    const sum = new Float64Array(wavelengths);
    const at = within(data.ph, ph);
    const thinned = within(data.thinnings, 1 / bath.total);
    data.colours.forEach((colour, i) => {
      const forms = colour.spectra.length;
      const thin = shares[i].length > forms * data.ph.length ? thinned : { low: 0, high: 0, share: 0 };
      const share = (t, p, form) => shares[i][(t * (last + 1) + p) * forms + form];
      const along = (t, form) => share(t, at.low, form) + at.share * (share(t, at.high, form) - share(t, at.low, form));
      colour.spectra.forEach((spectrum, form) => {
        const [low, high] = [along(thin.low, form), along(thin.high, form)];
        const part = bath.strengths[i] * (low + thin.share * (high - low));
        for (let w = 0; w < wavelengths; w += 1) sum[w] += part * spectrum[w];
      });
    });
    return sum;
  }

  /** Kubelka's layer over a ground, from within the water. */
  function layer(k, s, depth, ground) {
    if (s === 0) return ground * Math.exp(-2 * k * depth);
    const decay = Math.sqrt(k * (k + 2 * s));
    const even = 0.5 * (1 + Math.exp(-2 * decay * depth));
    const odd = decay > 0 ? (-0.5 * Math.expm1(-2 * decay * depth)) / decay : depth;
    return (s * odd + ground * (even - (s + k) * odd)) / ((s + k - ground * s) * odd + even);
  }

  /** Share of the light that reaches the eye, by wavelength. */
  function seenShare(absorbed, depth) {
    if (sight.kind !== "tub") return absorbed.map((a) => 10 ** (-a * sight.path_cm));
    const s = sight.scattering_per_cm;
    const scattered = -Math.expm1(-2 * sight.obliquity * sight.events_per_scattering * s * depth);
    const slant = sight.obliquity + (sight.diffuse_obliquity - sight.obliquity) * scattered;
    const inner = sight.inner_reflection;
    return absorbed.map((a, w) => {
      const ground = layer(slant * Math.LN10 * a, s, depth, sight.floor[w]);
      const water = sight.included_reflection + ((1 - sight.outer_reflection) * (1 - inner) * ground) / (1 - inner * ground);
      return (1 - sight.foam_cover) * water + sight.foam_cover * sight.foam_reflectance;
    });
  }

  const times = (matrix, vector) => matrix.map((row) => row[0] * vector[0] + row[1] * vector[1] + row[2] * vector[2]);
  const KNEE = (6 / 29) ** 3;
  const SLOPE = 1 / (3 * (6 / 29) ** 2);
  function labOf(xyz, white) {
    const [x, y, z] = xyz.map((v, i) => v / white[i]).map((v) => (v > KNEE ? Math.cbrt(v) : SLOPE * v + 4 / 29));
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
  }
  function xyzOf([lightness, a, b], white) {
    const y = (lightness + 16) / 116;
    return [y + a / 500, y, y - b / 200].map((v, i) => white[i] * (v > 6 / 29 ? v ** 3 : (v - 4 / 29) / SLOPE));
  }
  const inverse = ([[a, b, c], [d, e, f], [g, h, i]]) => {
    const by = 1 / (a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g));
    return [[e * i - f * h, c * h - b * i, b * f - c * e], [f * g - d * i, a * i - c * g, c * d - a * f],
      [d * h - e * g, b * g - a * h, a * e - b * d]].map((row) => row.map((v) => v * by));
  };
  const toScreen = inverse(sight.from_linear);
  const shown = (linear) => linear.every((v) => v >= -1e-6 && v <= 1 + 1e-6);
  /** Linear sRGB of the same hue that a screen can show; chroma gives way, and lightness a little. */
  function onScreen(linear) {
    if (shown(linear)) return linear;
    const lab = labOf(times(sight.from_linear, linear), sight.screen_white);
    const off = Math.min(Math.max(lab[0], 0), 100) - 50;
    const grey = 50 + Math.sign(off) * Math.max(Math.abs(off) - 0.25 * Math.hypot(lab[1], lab[2]), 0);
    const with_ = (share) => times(toScreen, xyzOf([grey + share * (lab[0] - grey), share * lab[1], share * lab[2]], sight.screen_white));
    let [inside, outside] = [0, 1];
    for (let i = 0; i < 14; i += 1) {
      const share = 0.5 * (inside + outside);
      if (shown(with_(share))) inside = share;
      else outside = share;
    }
    return with_(inside);
  }
  const toLinear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const fromLinear = (v) => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
  const levels = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
  const brightness = (hex) => levels(hex).reduce((sum, v, i) => sum + toLinear(v) * [0.2126, 0.7152, 0.0722][i], 0);

  /** What the eye sees of a spectrum: CIELAB under the recipe's light, and a screen's "#rrggbb". */
  function colourOf(absorbed, depth) {
    const seen = seenShare(absorbed, depth);
    const xyz = [0, 1, 2].map((i) => seen.reduce((sum, v, w) => sum + v * sight.weights[w][i], 0));
    const linear = onScreen(times(sight.to_linear, xyz));
    const hex = "#" + linear.map((v) => Math.round(255 * fromLinear(Math.min(Math.max(v, 0), 1))).toString(16).padStart(2, "0")).join("");
    return { lab: labOf(xyz, sight.white), hex };
  }
  const tint = (bath, ph) => colourOf(absorbance(bath, ph), bath.depth);

  /** Colour word of what a screen shows: that of the nearest place in the table. */
  function phraseOf(hex) {
    const lab = labOf(times(sight.from_linear, levels(hex).map(toLinear)), sight.screen_white);
    const count = (2 * sight.end) / sight.step + 1;
    const place = (v) => Math.min(Math.max(Math.round((v + sight.end) / sight.step), 0), count - 1);
    const light = Math.min(Math.floor(lab[0] / sight.step), Math.round(100 / sight.step) - 1);
    return sight.phrases[wordBytes[(light * count + place(lab[1])) * count + place(lab[2])]];
  }

  /** CIEDE2000 (CIE 142-2001). */
  function deltaE([l1, a1, b1], [l2, a2, b2]) {
    const strong = (c) => Math.sqrt(c ** 7 / (c ** 7 + 25 ** 7));
    const stretch = 1.5 - 0.5 * strong(0.5 * (Math.hypot(a1, b1) + Math.hypot(a2, b2)));
    const [c1, c2] = [Math.hypot(stretch * a1, b1), Math.hypot(stretch * a2, b2)];
    const turn = (a, b) => (Math.atan2(b, stretch * a) + 2 * Math.PI) % (2 * Math.PI);
    const [h1, h2] = [turn(a1, b1), turn(a2, b2)];
    let [between, hue] = [h2 - h1, 0.5 * (h1 + h2)];
    if (c1 * c2 === 0) [between, hue] = [0, h1 + h2];
    else if (Math.abs(between) > Math.PI) {
      hue += h1 + h2 < 2 * Math.PI ? Math.PI : -Math.PI;
      between -= Math.sign(between) * 2 * Math.PI;
    }
    const [light, chroma] = [0.5 * (l1 + l2), 0.5 * (c1 + c2)];
    const rad = Math.PI / 180;
    const t = 1 - 0.17 * Math.cos(hue - 30 * rad) + 0.24 * Math.cos(2 * hue) + 0.32 * Math.cos(3 * hue + 6 * rad) - 0.2 * Math.cos(4 * hue - 63 * rad);
    const off = (light - 50) ** 2;
    const dl = (l2 - l1) / (1 + (0.015 * off) / Math.sqrt(20 + off));
    const dc = (c2 - c1) / (1 + 0.045 * chroma);
    const dh = (2 * Math.sqrt(c1 * c2) * Math.sin(0.5 * between)) / (1 + 0.015 * chroma * t);
    const blue = 60 * rad * Math.exp(-(((hue / rad - 275) / 25) ** 2));
    return Math.sqrt(Math.max(dl ** 2 + dc ** 2 + dh ** 2 - 2 * Math.sin(blue) * strong(chroma) * dc * dh, 0));
  }
  const grade = (edges, value) => edges.filter((edge) => value >= edge).length;

  /** All that the board shows of a home. */
  function answer(home, amounts) {
    const bath = bathOf(home, amounts);
    const clear = colourOf(new Float64Array(wavelengths), bath.depth).lab;
    const [before, after] = [0, home.dose].map((grams) => {
      const ph = phOf(bath, grams);
      const colour = tint(bath, ph);
      return { ...colour, ph, phrase: phraseOf(colour.hex), visibility: deltaE(clear, colour.lab) };
    });
    const reserve = reserveOf(bath, home.dose);
    return { bath, before, after, reserve, change: deltaE(before.lab, after.lab), level: levelOf(after.ph, reserve) };
  }

  // ---- where the sliders stand: the address --------------------------------------------------------

  const names = data.homes.map((_, i) => (i ? words.home.replace("{n}", i + 1) : words.home_own));
  const start = () => ({
    at: 0,
    amounts: data.colours.map((colour) => colour.amount),
    homes: data.homes.map((home, i) => ({ water: i ? "usual" : "own", area: home.area_cm2, ppm: home.alkalinity_ppm, litres: home.litres, dose: data.dose_g })),
  });
  const most_ppm = acidity.alkalinity_ppm.at(-1);
  const [least_l, most_l] = [Math.min(...data.homes.map((home) => home.least_l)), Math.max(...data.homes.map((home) => home.most_l))];
  /** Ends of every slider of a home. */
  const ends = { dose: [0, data.most_g], ppm: [0, most_ppm], litres: [least_l, most_l] };

  /** A number of an address within its ends; as it was where it is none. */
  function held(text, [low, high], otherwise) {
    return /^\d+(\.\d+)?$/.test(text ?? "") ? Math.min(Math.max(Number(text), low), high) : otherwise;
  }
  function stateOf(fragment) {
    const given = new URLSearchParams(fragment);
    const state = start();
    state.homes.forEach((home, i) => {
      const parts = (given.get(`home${i + 1}`) ?? "").split(",");
      Object.entries(ends).forEach(([key, both], k) => (home[key] = held(parts[k], both, home[key])));
    });
    const amounts = (given.get("colours") ?? "").split(",");
    state.amounts = state.amounts.map((amount, i) => held(amounts[i], [0, data.colours[i].most], amount));
    state.at = held(given.get("at"), [1, names.length], 1) - 1 | 0;
    return state;
  }
  function fragmentOf(state) {
    const parts = state.homes.map((home, i) => `home${i + 1}=${home.dose},${home.ppm},${home.litres}`);
    return [...parts, `colours=${state.amounts}`, `at=${state.at + 1}`].join("&");
  }

  /** The recipe of a home as TOML, whose dose stands in its first line. */
  function recipe(state, i) {
    const home = state.homes[i];
    const plain = (x) => String(Number(x.toPrecision(6)));
    const slots = { dose: plain(home.dose), ppm: plain(home.ppm), litres: plain(home.litres), area: plain(home.area) };
    state.amounts.forEach((amount, k) => (slots[`colour${k}`] = plain(amount)));
    const blocks = data.toml[home.water].split("\n\n").filter((block) => !state.amounts.some((amount, k) => amount === 0 && block.includes(`\ue000colour${k}\ue000`)));
    return blocks.join("\n\n").replace(/\ue000(\w+)\ue000/g, (_, name) => slots[name]);
  }

  // ---- drawing ---------------------------------------------------------------------------------

  const number = (x, digits = 0) => new Intl.NumberFormat(LOCALE, { maximumFractionDigits: digits, useGrouping: false }).format(x);
  const fixed = (x) => new Intl.NumberFormat(LOCALE, { minimumFractionDigits: 1, maximumFractionDigits: 1 }).format(x);
  /** An amount in its unit, or in that of a US kitchen; a scale of either shows grams. */
  function measure(x, unit, digits = 0) {
    const metric = `${number(x, digits)}\u00a0${unit}`;
    if (!us || !(unit in US)) return metric;
    const [size, name] = US[unit].find(([holds]) => 4 * x >= holds) ?? US[unit].at(-1);
    const turned = `${number(x / size, x / size < 10 ? 2 : 1)}\u00a0${name}`;
    return unit === "g" ? `${metric} (${turned})` : turned;
  }
  const say = (key, values = {}) => words[key].replace(/\{(\w+)\}/g, (all, name) => (name in values ? values[name] : all));
  const SVG = "http://www.w3.org/2000/svg";
  function put(node, attributes, children) {
    for (const [key, value] of Object.entries(attributes)) {
      if (typeof value === "function") node.addEventListener(key, value);
      else if (value !== null && value !== false) node.setAttribute(key, value === true ? "" : value);
    }
    node.append(...children.flat(Infinity).filter((child) => child !== null && child !== ""));
    return node;
  }
  const h = (tag, attributes = {}, ...children) => put(document.createElement(tag), attributes, children);
  const s = (tag, attributes = {}, ...children) => put(document.createElementNS(SVG, tag), attributes, children);
  const write = (node, text) => node.textContent === text || (node.textContent = text);
  /** Black or white, whichever is read better on a water: at least 4.5 to 1. */
  const inkOn = (hex) => ((brightness(hex) + 0.05) ** 2 > 1.05 * 0.05 ? "#000000" : "#ffffff");
  /** A step of about a five-hundredth of a slider, of one figure. */
  const stepOf = (most) => 10 ** (Math.floor(Math.log10(most)) - 2);
  const digitsOf = (most) => Math.max(-Math.log10(stepOf(most)), 0);

  const HATCHES = { mind: [16, false], justify: [8, false], stop: [8, true] };
  const [LEFT, RIGHT, FLOOR, CORNER, RIM] = [12, 308, 142, 40, 14];

  /** A tub in section with the water before and after touching; `show` fills it. */
  function tub(of, labelled, film = "") {
    const hatch = Object.entries(HATCHES).map(([level, [apart, crossed]]) =>
      s("pattern", { id: `${level}-${of}`, width: apart, height: apart, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
        s("path", { d: `M0 0V${apart}${crossed ? `M0 0H${apart}` : ""}`, fill: "none" })));
    const clip = s("path", {});
    const [water, after, warned, meet, basin, line] = ["water", "after-water", "warned", "meet", "line", "waterline"].map((name) => s("path", { class: name }));
    const texts = labelled ? [84, 236].map((x) => [s("tspan", { x }), s("tspan", { x, class: "ph" })]) : [];
    const root = s("svg", { viewBox: "0 0 320 150", role: "img", class: "tub" },
      s("defs", {}, hatch, s("clipPath", { id: `basin-${of}` }, clip)),
      s("path", { class: "wall", d: "M6 2V102Q6 148 52 148H268Q314 148 314 102V2H308V102Q308 142 268 142H52Q12 142 12 102V2Z" }),
      water, s("g", { "clip-path": `url(#basin-${of})` }, after, warned, meet, film), basin, line,
      texts.map((pair) => s("text", { class: "in-water", "text-anchor": "middle" }, pair)));
    function show(found, name, fill) {
      const top = FLOOR - fill * (FLOOR - RIM);
      const tall = FLOOR - top;
      const corner = Math.min(CORNER, tall);
      const shape = `M${LEFT} ${top}V${FLOOR - corner}Q${LEFT} ${FLOOR} ${LEFT + CORNER} ${FLOOR}H${RIGHT - CORNER}Q${RIGHT} ${FLOOR} ${RIGHT} ${FLOOR - corner}V${top}Z`;
      const wave = `M160 ${top}C190 ${top + 0.35 * tall} 130 ${top + 0.65 * tall} 160 ${FLOOR}H${RIGHT}V${top}Z`;
      [clip, water, basin].forEach((path) => path.setAttribute("d", shape));
      [after, warned].forEach((path) => path.setAttribute("d", wave));
      meet.setAttribute("d", wave.split("H")[0]);
      line.setAttribute("d", `M${LEFT} ${top}H${RIGHT}`);
      water.setAttribute("fill", found.before.hex);
      after.setAttribute("fill", found.after.hex);
      warned.setAttribute("fill", found.level in HATCHES ? `url(#${found.level}-${of})` : "none");
      hatch.forEach((pattern) => pattern.firstChild.setAttribute("stroke", inkOn(found.after.hex)));
      texts.forEach(([word, ph], i) => {
        const side = i ? found.after : found.before;
        put(word.parentNode, { fill: inkOn(side.hex), stroke: side.hex }, []);
        // In shallow water there is room for the pH alone.
        write(word, tall < 52 ? "" : side.phrase);
        write(ph, tall < 26 ? "" : `pH ${fixed(side.ph)}`);
        word.setAttribute("y", top + 0.5 * tall - 8);
        ph.setAttribute("y", top + 0.5 * tall + (tall < 52 ? 8 : 17));
      });
      const told = ({ phrase, ph }) => `${phrase}, pH ${fixed(ph)}`;
      root.setAttribute("aria-label", say("tub", { name, before: told(found.before), after: told(found.after) }));
      if (film) Object.entries({ x: LEFT, y: top, width: RIGHT - LEFT, height: tall }).forEach(([key, value]) => film.setAttribute(key, value));
    }
    return { root, show };
  }

  const level = (code) => [h("span", { class: "mark", "aria-hidden": "true" }, { ok: "·", mind: "!", justify: "!!", stop: "✕" }[code]), h("span", { class: "word" }, words[`level_${code}`])];

  /** A slider on a ribbon of the colours that it leads to, hatched where caution calls for it. */
  function slider(name, label, unit, [min, max], places, set, moved) {
    const step = stepOf(max);
    const out = h("output", { for: name });
    const ribbon = h("div", { class: "ribbon", "aria-hidden": "true" });
    const input = h("input", { type: "range", id: name, min: Math.ceil(min / step - 1e-9) * step, max, step, input: () => {
      set(Number(Number(input.value).toFixed(digitsOf(max))));
      moved();
    } });
    const root = h("div", { class: `slider ${name}` }, h("label", { for: name }, h("span", {}, label), out), h("div", { class: "track" }, ribbon, input));
    /** Put the thumb, and paint what each place would give. */
    function show(x, at) {
      if (Number(input.value) !== x) input.value = x;
      const told = measure(x, unit, digitsOf(max));
      write(out, told);
      input.setAttribute("aria-valuetext", told);
      const found = Array.from({ length: places + 1 }, (_, i) => at(min + (i * (max - min)) / places));
      ribbon.style.setProperty("background-image", `linear-gradient(to right, ${found.map((one) => one.hex)})`);
      const starts = found.map((one, i) => i).filter((i) => i === 0 || found[i].level !== found[i - 1].level);
      ribbon.replaceChildren(...starts.filter((i) => found[i].level in HATCHES).map((i) => {
        const end = starts.find((next) => next > i) ?? places;
        const reach = h("i", { class: found[i].level });
        reach.style.setProperty("left", `${(100 * i) / places}%`);
        reach.style.setProperty("width", `${(100 * (end - i)) / places}%`);
        reach.style.setProperty("--on", inkOn(found[(i + end) >> 1].hex));
        return reach;
      }));
    }
    return { root, show };
  }

  // ---- the board ---------------------------------------------------------------------------------

  let state = stateOf(location.hash.slice(1));
  const fillOf = (home) => home.litres / home.area / Math.max(...data.homes.map((one) => one.most_l / one.area_cm2));
  const own = () => state.homes[state.at];
  const changed = () => draw([state.at]);
  const cards = names.map((name, i) => {
    const vessel = tub(i, false);
    const [from, to, mark, turn, shows] = [h("span", { class: "from" }), h("span"), h("span", { class: "level" }), h("span", { class: "turn" }), h("small")];
    const press = () => { state.at = i; draw([i]); keep(); };
    return { vessel, from, to, mark, turn, shows, root: h("button", { type: "button", class: "home", click: press }, h("span", { class: "name" }, name), vessel.root, h("span", { class: "ph" }, from, to), mark, turn, shows) };
  });
  const canvas = h("canvas", { width: 96, height: 40, "aria-hidden": "true", hidden: true });
  const large = tub("large", true, s("foreignObject", {}, canvas));
  const clock = h("span", { class: "clock", "aria-hidden": "true" });
  const facts = h("dl", { class: "facts" });
  const meaning = h("p", { class: "meaning" });
  const ticks = h("div", { class: "ticks", "aria-hidden": "true" });
  const acids = h("div", { class: "acids", "aria-hidden": "true" });
  const dose = slider("dose", words.dose, "g", [0, data.most_g], 100, (x) => (own().dose = x), changed);
  const water = slider("water", words.water, "ppm", [0, most_ppm], 24, (x) => (own().ppm = x), changed);
  const litres = slider("litres", words.litres, "L", [least_l, most_l], 24, (x) => (own().litres = x), changed);
  const colours = data.colours.map((colour, i) => slider(`colour${i}`, colour.name, colour.unit, [0, colour.most], 24,
    (x) => (state.amounts[i] = x), () => everything()));
  dose.root.querySelector(".track").before(acids);
  dose.root.append(ticks);

  /** Grams at which the tide mark is read: round ones. */
  const unit = 10 ** Math.floor(Math.log10(data.most_g) + 1e-9);
  const apart = unit * (data.most_g <= 2 * unit ? 0.5 : data.most_g <= 5 * unit ? 1 : 2);
  const marks = Array.from({ length: Math.floor(data.most_g / apart + 1e-9) + 1 }, (_, i) => i * apart);
  function placed(grams, label) {
    const mark = h("span", {}, label);
    mark.style.setProperty("--at", grams / data.most_g);
    return mark;
  }

  const seconds = { timer: 0, said: 0, film: 0 };
  /** Keep the state in the address, once a slider rests. */
  function keep() {
    clearTimeout(seconds.timer);
    seconds.timer = setTimeout(() => history.replaceState(null, "", "#" + fragmentOf(state)), 250);
  }

  const list = (found) => [
    [words.acidity, `${fixed(found.before.ph)} → ${fixed(found.after.ph)}`],
    [words.visibility, words[`seen_${grade(data.limits.seen, found.after.visibility)}`]],
    [words.change, words[`change_${grade(data.limits.change, found.change)}`]],
  ];

  /** Draw the homes that changed, and the one at hand whole. */
  function draw(which) {
    for (const i of which) {
      const home = state.homes[i];
      const found = answer(home, state.amounts);
      const card = cards[i];
      card.found = found;
      card.vessel.show(found, names[i], fillOf(home));
      write(card.from, `pH ${fixed(found.before.ph)} → `);
      write(card.to, fixed(found.after.ph));
      card.mark.replaceChildren(...level(found.level));
      card.root.dataset.level = found.level;
      write(card.turn, `${words.change}: ${words[`change_${grade(data.limits.change, found.change)}`]}`);
      write(card.shows, say("shows", { ppm: number(home.ppm), litres: measure(home.litres, "L", digitsOf(most_l)), dose: measure(home.dose, "g", 1) }));
    }
    cards.forEach((card, i) => card.root.setAttribute("aria-pressed", i === state.at));
    bench();
    stopFilm();
    keep();
    clearTimeout(seconds.said);
    seconds.said = setTimeout(speak, 500);
  }

  function speak() {
    const { found } = cards[state.at];
    document.getElementById("said").textContent = say("said", { name: names[state.at], ph: fixed(found.after.ph), level: words[`level_${found.level}`], after: found.after.phrase,
      seen: words[`seen_${grade(data.limits.seen, found.after.visibility)}`], change: words[`change_${grade(data.limits.change, found.change)}`] });
  }

  /** The home at hand: its tub, what is to be known of it, and its sliders on their ribbons. */
  function bench() {
    const home = own();
    const { found } = cards[state.at];
    large.show(found, names[state.at], fillOf(home));
    facts.replaceChildren(...list(found).map(([term, said]) => h("div", {}, h("dt", {}, term), h("dd", {}, said))));
    meaning.className = `meaning ${found.level}`;
    const judged = data.bathers === "nobody" ? [] : [h("strong", {}, level(found.level)), ": ", words[`level_means_${found.level}`]];
    meaning.replaceChildren(...judged, " ", words[`bathers_${data.bathers}`]);
    const poured = (bath, grams) => tint(bath, phOf(bath, grams));
    const other = (change) => {
      const tried = { ...home, ...change };
      return poured(bathOf(tried, state.amounts), tried.dose);
    };
    dose.show(home.dose, (grams) => {
      const ph = phOf(found.bath, grams);
      return { ...tint(found.bath, ph), level: levelOf(ph, reserveOf(found.bath, grams)) };
    });
    water.show(home.ppm, (ppm) => other({ ppm }));
    litres.show(home.litres, (l) => other({ litres: l }));
    colours.forEach((colour, i) => colour.show(state.amounts[i], (amount) =>
      poured(bathOf(home, state.amounts.map((old, k) => (k === i ? amount : old))), home.dose)));
    acids.replaceChildren(...marks.map((grams) => placed(grams, (grams ? "" : "pH\u00a0") + fixed(phOf(found.bath, grams)))));
  }

  // ---- the film of a pour ------------------------------------------------------------------------

  /** Zone of the pour and the rest, over what the mixed tub will hold, some seconds after the start. */
  function zones(home, t) {
    const { pour_s, mixed_s, zone_l, zone_most, within: near } = data.mixing;
    const part = Math.min(zone_l / home.litres, zone_most);
    const fall = mixed_s / Math.log(Math.max((1 / part - 1) / near, Math.E));
    const poured = Math.min(t, pour_s);
    const apart = (fall / (part * pour_s)) * (1 - Math.exp(-poured / fall)) * Math.exp(-(t - poured) / fall);
    const mean = poured / pour_s;
    return { zone: mean + (1 - part) * apart, rest: mean - part * apart };
  }

  function stopFilm() {
    cancelAnimationFrame(seconds.film);
    canvas.hidden = true;
    large.root.classList.remove("playing");
    write(clock, "");
  }

  function playFilm() {
    const home = own();
    const { bath } = cards[state.at].found;
    const colours = Array.from({ length: 129 }, (_, i) => levels(tint(bath, phOf(bath, (i / 128) * data.most_g)).hex).map((v) => 255 * v));
    const all = data.mixing.pour_s + data.mixing.mixed_s;
    const picture = canvas.getContext("2d");
    const pixels = picture.createImageData(canvas.width, canvas.height);
    const begun = performance.now();
    stopFilm();
    canvas.hidden = false;
    large.root.classList.add("playing");
    (function frame(now) {
      const t = Math.min((Math.max(now - begun, 0) / 9000) * all, all);
      const { zone, rest } = zones(home, t);
      const spread = 0.16 + 0.9 * (t / all);
      for (let k = 0; k < canvas.width * canvas.height; k += 1) {
        const x = (k % canvas.width) / canvas.height - 1.7;
        const y = Math.floor(k / canvas.width) / canvas.height - 0.15;
        // A stirred pour winds itself up: the farther out, the further behind.
        const r = Math.hypot(x, 1.6 * y);
        const angle = Math.atan2(1.6 * y, x) + 7 * (t / all) - 5 * r;
        const arms = 0.5 + 0.5 * Math.sin(3 * angle) * Math.min(1, 4 * r);
        const inside = Math.exp(-((r / (spread * (0.7 + 0.9 * arms))) ** 2));
        const grams = home.dose * (rest + (zone - rest) * inside);
        const at = Math.min(Math.max((grams / data.most_g) * 128, 0), 128);
        const [low, part] = [Math.min(Math.floor(at), 127), at - Math.min(Math.floor(at), 127)];
        for (let i = 0; i < 3; i += 1) pixels.data[4 * k + i] = colours[low][i] + part * (colours[low + 1][i] - colours[low][i]);
        pixels.data[4 * k + 3] = 255;
      }
      picture.putImageData(pixels, 0, 0);
      write(clock, say("film_at", { n: Math.round(t) }));
      if (t < all) seconds.film = requestAnimationFrame(frame);
    })(begun);
  }

  // ---- the page ----------------------------------------------------------------------------------

  const text = h("textarea", { readonly: true, rows: 16, spellcheck: "false", "aria-label": words.write });
  const copied = h("span", { role: "status" });
  const dialog = h("dialog", { "aria-labelledby": "write" }, h("h2", { id: "write" }, words.write), h("p", { class: "faint" }, words.write_how), text,
    h("div", { class: "ends" }, h("button", { type: "button", class: "main", click: copy }, words.copy), h("button", { type: "button", click: () => dialog.close() }, words.close), copied));
  function copy() {
    text.select();
    const done = () => write(copied, words.copied);
    if (navigator.clipboard) navigator.clipboard.writeText(text.value).then(done, () => document.execCommand("copy") && done());
    else if (document.execCommand("copy")) done();
  }
  const button = (label, click, attributes = {}) => h("button", { type: "button", click, ...attributes }, label);
  const everything = () => draw(names.map((_, i) => i));
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const actions = h("div", { class: "ends" },
    button(words.write, () => { text.value = recipe(state, state.at); text.setSelectionRange(0, 0); write(copied, ""); dialog.showModal(); text.scrollTop = 0; }, { class: "main" }),
    button(words.same_dose, () => { state.homes.forEach((home) => (home.dose = own().dose)); everything(); }),
    button(words.reset, () => { state = { ...start(), at: state.at }; everything(); }),
    button(words.print, () => print()));
  ticks.append(...marks.map((grams) => placed(grams, `${number(grams, 2)}${grams ? "" : "\u00a0g"}`)));
  const group = (title, parts) => h("div", { role: "group", "aria-label": title, class: "group" }, h("h2", {}, title), parts.map((part) => part.root));
  document.getElementById("page").replaceChildren(
    h("div", { class: "homes", role: "group", "aria-label": words.homes }, cards.map((card) => card.root)),
    h("div", { class: "bench" },
      h("div", { class: "view" }, large.root), dose.root,
      h("div", { class: "known" }, facts, meaning, still ? "" : h("p", { class: "play" }, button(words.film, playFilm), clock)),
      h("div", { class: "dials" }, group(words.this_home, [water, litres]), colours.length ? group(words.every_home, colours) : "")),
    actions, dialog);
  if (/^#[0-9a-f]{6}$/i.test(data.accent)) document.documentElement.style.setProperty("--accent", data.accent);
  document.querySelectorAll("time").forEach((one) => (one.textContent = one.textContent.replace(one.dateTime, new Intl.DateTimeFormat(LOCALE, { dateStyle: "long", timeZone: "UTC" }).format(new Date(one.dateTime)))));
  addEventListener("hashchange", () => { state = stateOf(location.hash.slice(1)); everything(); });
  everything();
  window.board = Object.freeze({ data, answer, recipe, stateOf, fragmentOf, deltaE, inkOn, start });
})();
