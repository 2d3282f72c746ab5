// What Python's own types and functions do, as far as the answers use them.
const $ = (() => {
  class Record {
    constructor(given = {}) {
      Object.assign(this, this.constructor.d(), given);
      if (this.__post_init__) this.__post_init__();
    }
    static d() { return {}; } // defaults of the fields
  }
  class ValueError extends Error {}
  class KeyError extends Error {}
  class Dict {
    constructor(pairs) { this.inner = new Map(); for (const [k, v] of pairs) this.put(k, v); }
    put(k, v) { this.inner.set(hash(k), [k, v]); }
    has(k) { return this.inner.has(hash(k)); }
    get(k) { return this.inner.get(hash(k))?.[1]; }
    get size() { return this.inner.size; }
    keys() { return [...this.inner.values()].map((pair) => pair[0]); }
    items() { return [...this.inner.values()].map((pair) => [...pair]); }
  }
  class Several extends Dict {
    constructor(values) { super(values.map((value) => [value, true])); }
    toJSON() { return this.keys(); }
  }
  class Fraction {
    constructor(over, under) {
      const shared = (a, b) => (b ? shared(b, a % b) : a);
      const most = shared(over, under) || 1;
      this.numerator = over / most;
      this.denominator = under / most;
    }
    valueOf() { return this.numerator / this.denominator; }
    times(factor) { return new Fraction(this.numerator * factor, this.denominator); }
    __str__() { return this.denominator === 1 ? String(this.numerator) : `${this.numerator}/${this.denominator}`; }
  }
  class Match {
    constructor(found) { this.found = found; }
    at(key) { return (typeof key === "number" ? this.found[key] : this.found.groups[key]) ?? null; }
  }
  class Pattern {
    constructor(text, flags = 0) {
      let plain = text.replaceAll("(?P<", "(?<");
      const small = plain.startsWith("(?i)") || (flags & 2) !== 0;
      plain = plain.replace(/^\(\?i\)/, "");
      const made = (before, after, kind) => new RegExp(before + plain + after, kind + (small ? "i" : ""));
      this.start = made("", "", "y");
      this.whole = made("^(?:", ")$", "");
      this.any = made("", "", "");
      this.all = made("", "", "g");
    }
  }
  const hash = (k) => (typeof k === "object" && k !== null ? JSON.stringify(k) : k);
  const dict = (pairs = []) => new Dict(pairs instanceof Dict ? pairs.items() : pairs);
  const set = (values = []) => new Several(iter(values));
  const iter = (value) => {
    if (Array.isArray(value)) return value;
    if (typeof value === "string") return [...value];
    if (value instanceof Dict) return value.keys();
    return value.__iter__ ? iter(value.__iter__()) : [...value];
  };
  const items = (value) => value.items();
  const len = (value) => {
    if (value instanceof Dict) return value.size;
    return value.__len__ ? value.__len__() : iter(value).length;
  };
  const truth = (value) => {
    if (value == null || value === false || value === 0 || value === "") return false;
    if (value instanceof Fraction) return value.numerator !== 0;
    if (Array.isArray(value) || value instanceof Dict || value.__len__) return len(value) > 0;
    return true;
  };
  const eq = (a, b) => {
    if (a === b) return true;
    if (a instanceof Fraction && b instanceof Fraction) return a.valueOf() === b.valueOf();
    if (a instanceof Several && b instanceof Several) {
      return a.size === b.size && a.keys().every((k) => b.has(k));
    }
    if (Array.isArray(a) && Array.isArray(b)) {
      return a.length === b.length && a.every((each, i) => eq(each, b[i]));
    }
    return false;
  };
  const compare = (a, b) => {
    if (!Array.isArray(a)) return a < b ? -1 : a > b ? 1 : 0;
    for (let i = 0; i < Math.min(a.length, b.length); i++) {
      const found = compare(a[i], b[i]);
      if (found) return found;
    }
    return a.length - b.length;
  };
  const order = (a, sign, b) => {
    if (a instanceof Several && sign === "<=") return a.keys().every((k) => b.has(k));
    if (typeof a === "number") {
      return sign === "<" ? a < b : sign === "<=" ? a <= b : sign === ">" ? a > b : a >= b;
    }
    const found = compare(a, b);
    return sign === "<" ? found < 0 : sign === "<=" ? found <= 0 : sign === ">" ? found > 0 : found >= 0;
  };
  const holds = (several, value) => {
    if (typeof several === "string") return several.includes(value);
    if (several instanceof Dict) return several.has(value);
    return iter(several).some((each) => eq(each, value));
  };
  const at = (owner, key) => {
    if (owner instanceof Dict) {
      if (!owner.has(key)) throw new KeyError(String(key));
      return owner.get(key);
    }
    return owner instanceof Match ? owner.at(key) : owner.at(key);
  };
  const put = (owner, key, value) => {
    if (owner instanceof Dict) owner.put(key, value);
    else owner[key < 0 ? owner.length + key : key] = value;
  };
  const slice = (value, low, high, step) => {
    const part = value.slice(low ?? 0, high ?? undefined);
    return step == null ? part : part.filter((_, i) => i % step === 0);
  };
  const add = (a, b) => {
    if (Array.isArray(a)) return [...a, ...b];
    return a?.__add__ ? a.__add__(b) : a + b;
  };
  const sub = (a, b) => {
    if (a instanceof Several) return set(a.keys().filter((k) => !b.has(k)));
    return a?.__sub__ ? a.__sub__(b) : a - b;
  };
  const mul = (a, b) => {
    if (Array.isArray(a)) return Array(Math.max(b, 0)).fill(a).flat();
    if (a instanceof Fraction) return a.times(b);
    if (b instanceof Fraction) return b.times(a);
    return typeof a === "string" ? a.repeat(b) : a * b;
  };
  const floordiv = (a, b) => Math.floor(a / b);
  const mod = (a, b) => a - b * Math.floor(a / b);
  const either = (a, b) => (a instanceof Dict ? new Dict([...a.items(), ...b.items()]) : a | b);
  const and = (a, b) => (truth(a) ? b() : a);
  const or = (a, b) => (truth(a) ? a : b());

  // numbers as text, ties to even as Python has them
  const fixed = (value, places) => {
    const size = Math.abs(value);
    let text = size.toFixed(places);
    if ((size * 2 ** (places + 1)) % 2 === 1 && Number(text.at(-1)) % 2 === 1) {
      text = (size - 10 ** -places / 2).toFixed(places);
    }
    return (value < 0 || Object.is(value, -0) ? "-" : "") + text;
  };
  const general = (value, digits) => {
    if (!Number.isFinite(value)) return str(value);
    const many = Math.max(digits, 1);
    if (value === 0) return Object.is(value, -0) ? "-0" : "0";
    const power = Number(value.toExponential(many - 1).split("e")[1]);
    if (power < -4 || power >= many) {
      const [front, back] = value.toExponential(many - 1).split("e");
      const sign = back[0], size = back.slice(1).padStart(2, "0");
      return `${bare(front)}e${sign}${size}`;
    }
    return bare(fixed(value, many - 1 - power));
  };
  const bare = (text) => (text.includes(".") ? text.replace(/\.?0+$/, "") : text);
  const str = (value) => {
    if (value == null) return "None";
    if (value === true) return "True";
    if (value === false) return "False";
    if (value === Infinity) return "inf";
    if (value === -Infinity) return "-inf";
    if (Number.isNaN(value)) return "nan";
    return typeof value === "object" && value.__str__ ? value.__str__() : String(value);
  };
  const repr = (value) => {
    if (typeof value !== "string") return str(value);
    const quote = value.includes("'") && !value.includes('"') ? '"' : "'";
    const shown = value.replaceAll("\\", "\\\\").replaceAll("\n", "\\n").replaceAll("\t", "\\t");
    return quote + (quote === "'" ? shown.replaceAll("'", "\\'") : shown) + quote;
  };
  const format = (value, wanted) => {
    if (value instanceof Decimal) return str(value);
    const [, sign, , precision, kind] = /^(\+?)(<\d+)?(?:\.(\d+))?([fgd]?)$/.exec(wanted) ?? fail(wanted);
    const places = precision === undefined ? 6 : Number(precision);
    const text = kind === "d" ? String(value) : kind === "f" ? fixed(value, places) : general(value, places);
    return sign && !text.startsWith("-") ? `+${text}` : text;
  };
  class Decimal {
    // the digits of a number as they stand, without an exponent
    constructor(text) { this.text = text; }
    __str__() {
      const [front, power] = this.text.split("e");
      const places = (front.split(".")[1] ?? "").length - Number(power ?? 0);
      return power === undefined ? front : Number(this.text).toFixed(Math.max(places, 0));
    }
  }
  const fail = (what) => { throw new Error(`${what} isn't known here`); };
  const round = (value, places) => {
    if (places !== undefined) return Number(fixed(value, places));
    const low = Math.floor(value), rest = value - low;
    return rest < 0.5 || (rest === 0.5 && low % 2 === 0) ? low : low + 1;
  };
  const float = (value) => {
    if (typeof value === "number" || value instanceof Fraction) return Number(value);
    if (!/^\s*[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?\s*$/i.test(value)) throw new ValueError(value);
    return Number(value);
  };
  const int = (value) => (typeof value === "string" ? parseInt(value, 10) : Math.trunc(value));
  const extreme = (sign) => (args, { key = null, default: other } = {}) => {
    const several = args.length === 1 ? iter(args[0]) : args;
    if (!several.length) return other === undefined ? fail("an empty list") : other;
    const size = key ?? ((each) => each);
    let best = several[0], most = size(best);
    for (const each of several.slice(1)) {
      const next = size(each);
      if (sign * compare(next, most) > 0) [best, most] = [each, next];
    }
    return best;
  };
  const sorted = (several, { key = (each) => each, reverse = false } = {}) => {
    const found = [...iter(several)].sort((a, b) => (reverse ? -1 : 1) * compare(key(a), key(b)));
    return found;
  };
  const isinstance = (value, kinds) => [kinds].flat().some((kind) => {
    if (kind === float || kind === int) return typeof value === "number";
    if (kind === str) return typeof value === "string";
    return typeof kind === "function" && value instanceof kind;
  });
  // sums without rounding in between (Shewchuk 1997), as Python's fsum
  const fsum = (several) => {
    const parts = [];
    for (let x of iter(several)) {
      let i = 0;
      for (let y of parts) {
        if (Math.abs(x) < Math.abs(y)) [x, y] = [y, x];
        const high = x + y, low = y - (high - x);
        if (low) parts[i++] = low;
        x = high;
      }
      parts.length = i;
      parts.push(x);
    }
    return parts.reduceRight((sum, part) => sum + part, 0);
  };
  const cache = (made) => {
    const known = new Map();
    return (...args) => {
      const key = JSON.stringify(args);
      if (!known.has(key)) known.set(key, made(...args));
      return known.get(key);
    };
  };
  const replace = (record, changes) =>
    Object.assign(Object.create(Object.getPrototypeOf(record)), record, changes);
  const chars = (text) => new Set(text);
  const lstrip = (text, which = " \t\n\r\f\v") => {
    const set = chars(which);
    let i = 0;
    while (i < text.length && set.has(text[i])) i++;
    return text.slice(i);
  };
  const rstrip = (text, which = " \t\n\r\f\v") => {
    const set = chars(which);
    let i = text.length;
    while (i > 0 && set.has(text[i - 1])) i--;
    return text.slice(0, i);
  };
  const matched = (found) => (found === null ? null : new Match(found));
  const started = (pattern, text) => { pattern.start.lastIndex = 0; return matched(pattern.start.exec(text)); };
  const compile = (text, flags) => (text instanceof Pattern ? text : new Pattern(text, flags));
  const compiled = cache((text, flags) => compile(text, flags));
  const re = {
    ASCII: 256, IGNORECASE: 2,
    compile: (text, flags) => compile(text, flags),
    match: (pattern, text, flags) => started(compiled(pattern, flags), text),
    fullmatch: (pattern, text, flags) => matched(compiled(pattern, flags).whole.exec(text)),
    search: (pattern, text, flags) => matched(compiled(pattern, flags).any.exec(text)),
    sub: (pattern, by, text) => text.replace(compiled(pattern).all, (...found) =>
      typeof by === "string" ? by.replace(/\\(\d)/g, (_, group) => found[group]) : by(new Match(found))),
  };
  const on = {
    append: (list, value) => { list.push(value); },
    extend: (list, values) => { list.push(...iter(values)); },
    insert: (list, i, value) => { list.splice(i, 0, value); },
    index: (list, value) => list.findIndex((each) => eq(each, value)),
    count: (list, value) => iter(list).filter((each) => eq(each, value)).length,
    sort: (list, options) => { list.splice(0, list.length, ...sorted(list, options)); },
    pop: (list, i) => (i === undefined ? list.pop() : list.splice(i, 1)[0]),
    get: (owner, key, other = null) => (owner.has(key) ? owner.get(key) : other),
    setdefault: (owner, key, other) => { if (!owner.has(key)) owner.put(key, other); return owner.get(key); },
    keys: (owner) => new Several(owner.keys()),
    values: (owner) => owner.items().map((pair) => pair[1]),
    items: (owner) => owner.items(),
    join: (text, values) => iter(values).join(text),
    lower: (text) => text.toLowerCase(),
    upper: (text) => text.toUpperCase(),
    capitalize: (text) => text.slice(0, 1).toUpperCase() + text.slice(1).toLowerCase(),
    startswith: (text, starts) => [starts].flat().some((each) => text.startsWith(each)),
    endswith: (text, ends) => [ends].flat().some((each) => text.endsWith(each)),
    removeprefix: (text, start) => (text.startsWith(start) ? text.slice(start.length) : text),
    removesuffix: (text, end) => (end && text.endsWith(end) ? text.slice(0, -end.length) : text),
    strip: (text, which) => lstrip(rstrip(text, which), which),
    lstrip, rstrip,
    split: (text, by) => (by === undefined ? text.split(/\s+/).filter(Boolean) : text.split(by)),
    rsplit: (text, by, most) => {
      const parts = text.split(by);
      return parts.length > most + 1 ? [parts.slice(0, -most).join(by), ...parts.slice(-most)] : parts;
    },
    replace: (text, one, other) => text.replaceAll(one, other),
    find: (text, part) => text.indexOf(part),
    partition: (text, by) => {
      const i = text.indexOf(by);
      return i < 0 ? [text, "", ""] : [text.slice(0, i), by, text.slice(i + by.length)];
    },
    rpartition: (text, by) => {
      const i = text.lastIndexOf(by);
      return i < 0 ? ["", "", text] : [text.slice(0, i), by, text.slice(i + by.length)];
    },
    translate: (text, table) => [...text].map((each) => on.get(table, each, each)).join(""),
    maketrans: (_, table) => table,
    fromkeys: (_, values) => dict(iter(values).map((each) => [each, null])),
    match: started,
    fullmatch: (pattern, text) => matched(pattern.whole.exec(text)),
    search: (pattern, text) => matched(pattern.any.exec(text)),
    sub: (pattern, by, text) => re.sub(pattern, by, text),
    end: (match) => match.found.index + match.found[0].length,
    groupdict: (match) => dict(Object.entries(match.found.groups ?? {}).map(([k, v]) => [k, v ?? null])),
  };
  class QueryParams extends Dict {
    constructor(pairs) { super(pairs); this.pairs = pairs; }
    getlist(name) { return this.pairs.filter((pair) => pair[0] === name).map((pair) => pair[1]); }
    multi_items() { return this.pairs; }
  }
  class NormalDist {
    // the two quantiles that a 95 % interval asks for
    inv_cdf(probability) {
      if (Math.abs(probability - 0.975) < 1e-12) return 1.9599639845400536;
      if (Math.abs(probability - 0.025) < 1e-12) return -1.9599639845400538;
      return fail(probability);
    }
  }
  // comma-separated text, as Python's csv writes it
  const io = { StringIO: () => ({ text: "", getvalue() { return this.text; } }) };
  const cell = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  const csv = { DictWriter: (out, { fieldnames, restval, lineterminator }) => ({
    write(cells) { out.text += cells.map(cell).join(",") + lineterminator; },
    writeheader() { this.write(fieldnames); },
    writerows(rows) { rows.forEach((row) => this.write(fieldnames.map((name) => on.get(row, name, restval)))); },
  }) };
  const math = {
    ...Object.fromEntries(Object.getOwnPropertyNames(Math).map((name) => [name, Math[name]])),
    pi: Math.PI, inf: Infinity, nan: NaN, fsum,
    exp2: (x) => 2 ** x,
    log: (x, base) => (base === undefined ? Math.log(x) : Math.log(x) / Math.log(base)),
    isinf: (x) => Math.abs(x) === Infinity,
    isnan: Number.isNaN, isfinite: Number.isFinite,
    isclose: (a, b, { rel_tol = 1e-9, abs_tol = 0 } = {}) =>
      a === b || Math.abs(a - b) <= Math.max(rel_tol * Math.max(Math.abs(a), Math.abs(b)), abs_tol),
  };
  return {
    Record, ValueError, KeyError, TypeError, Dict, dict, set, frozenset: set, iter, items, len, truth,
    eq, order, holds, at, put, slice, add, sub, mul, floordiv, mod, either, and, or, str, repr, format,
    round, float, int, sorted, isinstance, cache, replace, on, re, math, io, csv,
    NormalDist: () => new NormalDist(), Decimal: (text) => new Decimal(text),
    unicodedata: { normalize: (kind, text) => text.normalize(kind) },
    bound: (owner, name) => (owner instanceof Record || !(name in on) ? owner[name] : (...args) => on[name](owner, ...args)),
    min: extreme(-1), max: extreme(1),
    abs: Math.abs, bool: truth, list: (several = []) => [...iter(several)], tuple: (several = []) => [...iter(several)],
    sum: (several, start = 0) => iter(several).reduce((a, b) => a + b, start),
    any: (several) => iter(several).some(truth),
    all: (several) => iter(several).every(truth),
    divmod: (a, b) => [Math.floor(a / b), mod(a, b)],
    map: (made, several) => iter(several).map((each) => made(each)),
    QueryParams: (pairs) => new QueryParams(pairs instanceof Dict ? pairs.items() : pairs),
    fields: (values) => (values instanceof Dict ? Object.fromEntries(values.items()) : values),
    Fraction: (over, under = 1) => new Fraction(over, under),
    bisect_right: (several, value) => several.filter((each) => each <= value).length,
    absent: () => fail("what needs Python's own libraries"),
    escape: (text) => text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`),
    filter: (made, several) => iter(several).filter((each) => truth(made ? made(each) : each)),
    type: (record) => ({ __name__: record.constructor.name }),
    vars: (record) => ({ ...record }),
    pairwise: (several) => iter(several).slice(1).map((each, i) => [iter(several)[i], each]),
    zip: (...several) => {
      const lists = several.filter((each) => Array.isArray(each) || typeof each === "string" || each instanceof Dict).map(iter);
      return lists[0].slice(0, Math.min(...lists.map((each) => each.length))).map((_, i) => lists.map((list) => list[i]));
    },
    enumerate: (several, { start = 0 } = {}) => iter(several).map((each, i) => [i + start, each]),
    range: (a, b, step = 1) => {
      const [low, high] = b === undefined ? [0, a] : [a, b];
      return Array.from({ length: Math.max(0, Math.ceil((high - low) / step)) }, (_, i) => low + i * step);
    },
    reversed: (several) => [...iter(several)].reverse(),
    next: (given, other, several = iter(given)) => (several.length ? several[0] : other === undefined ? fail("an empty list") : other),
  };
})();
