/** Milliseconds since 1970-01-01 UTC of an ISO 8601 date (its noon, UTC) or date with time and zone; null for others. */
export function momentOf(text: string): number | null {
  if (/^\d{4}-\d{2}-\d{2}$/.test(text)) return realMoment(`${text}T12:00:00Z`, text);
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})$/.test(text)) return null;
  return realMoment(text, text.slice(0, 10));
}

/** Refuses the 30th of February, which Date would move to March. */
function realMoment(text: string, date: string): number | null {
  const moment = Date.parse(text);
  const day = new Date(`${date}T00:00:00Z`);
  if (!Number.isFinite(moment) || Number.isNaN(day.getTime())) return null;
  return day.toISOString().startsWith(date) ? moment : null;
}
