// Lengths and amounts as the plan says them, and as they are typed in the yard. Metres inside.

const FOOT = 0.3048, YARD3 = 0.764554857984, POUND = 0.45359237;

/** Rounded to whole numbers, halves away from zero. */
function whole(value) {
  return Math.sign(value) * Math.floor(Math.abs(value) * (1 + 1e-12) + 0.5);
}

function fixed(value, digits) {
  const told = (whole(value * 10 ** digits) / 10 ** digits).toFixed(digits);
  return Number(told) === 0 ? told.replace("-", "") : told;
}

/** So many eighths of an inch as a number with a fraction. */
function eighths(count) {
  const inches = Math.floor(count / 8);
  let part = count % 8, of = 8;
  if (!part) return String(inches);
  while (part % 2 === 0) [part, of] = [part / 2, of / 2];
  return inches ? `${inches} ${part}/${of}` : `${part}/${of}`;
}

function feetInches(inches) {
  const count = Math.abs(whole(inches * 8)), sign = whole(inches * 8) < 0 ? "-" : "";
  const feet = Math.floor(count / 96), rest = count % 96;
  if (!feet) return `${sign}${eighths(rest)}"`;
  const small = rest && rest < 8 ? `0 ${eighths(rest)}` : eighths(rest);
  return `${sign}${feet}' ${small}"`;
}

/** An elevation: 101' 2 7/8", 101.24 ft or 30.858 m. */
function elevation(metres, units) {
  if (units.form === "inches") return feetInches((metres / units.foot) * 12);
  return units.metric ? `${fixed(metres, 3)} m` : `${fixed(metres / units.foot, 2)} ft`;
}

/** What a rod reads: 4' 6 7/8", 4.57 ft, 1.393 m or 1393 mm. */
function rod(metres, units) {
  return units.form === "mm" ? `${fixed(metres * 1000, 0)} mm` : elevation(metres, units);
}

/** A thickness: 6 3/4 in, feet and inches from three feet on, or millimetres. */
function depth(metres, units) {
  if (units.metric) return `${fixed(metres * 1000, 0)} mm`;
  const inches = (metres / units.foot) * 12, count = whole(inches * 8);
  if (Math.abs(inches) >= 36) return feetInches(inches);
  return `${count < 0 ? "-" : ""}${eighths(Math.abs(count))} in`;
}

/** A volume to about three figures: cubic yards or cubic metres. */
function volume(metres3, units) {
  const value = units.us ? metres3 / YARD3 : metres3, size = Math.abs(value);
  const digits = size < 9.995 ? 2 : size < 99.95 ? 1 : 0;
  return `${fixed(value, digits)} ${units.us ? "yd³" : "m³"}`;
}

/** A weight: tons of 2,000 lb or tonnes. */
function mass(kilograms, units) {
  const tons = units.us ? kilograms / (2000 * POUND) : kilograms / 1000;
  return `${fixed(tons, Math.abs(tons) < 1 || !units.us ? 2 : 1)} ${units.us ? "tons" : "tonnes"}`;
}

/** A typed number, also 3 1/2 and 1/2; NaN for anything else. */
function number(text) {
  const parts = text.trim().match(/^(?:(\d+(?:[.,]\d+)?))?(?:(?:^|\s+|-)(\d+)\/(\d+))?$/);
  if (!parts || (parts[1] === undefined && parts[2] === undefined)) return NaN;
  const fraction = parts[2] === undefined ? 0 : Number(parts[2]) / Number(parts[3]);
  return Number((parts[1] ?? "0").replace(",", ".")) + fraction;
}

/** A typed reading in metres: 3' 11 1/4", 47 1/4 in, 3.94, 1.201, 1201 mm; bare figures are in the notes' unit. NaN
 *  where it says nothing. */
function reading(text, units) {
  const said = text.trim().toLowerCase().replace(/[’′]/g, "'").replace(/[”″]|''/g, '"');
  const feet = said.match(/^(?:([^'"]*)(?:'|ft))?\s*(?:([^'"]*?)\s*(?:"|in))?$/);
  if (feet && (feet[1] !== undefined || feet[2] !== undefined)) {
    const [first, rest] = [feet[1], feet[2]].map((one) => (one === undefined || !one.trim() ? 0 : number(one)));
    return first * units.foot + (rest * units.foot) / 12;
  }
  const metric = said.match(/^(.*?)\s*(mm|cm|m)$/);
  if (metric) return number(metric[1]) * { mm: 0.001, cm: 0.01, m: 1 }[metric[2]];
  if (units.form === "inches") return NaN; // feet or inches? it has to say
  return number(said) * (units.form === "mm" ? 0.001 : units.metric ? 1 : units.foot);
}
