export const TAB = 9;
export const RETURN = 13;
export const SPACE = 32;
export const QUOTE = 34;
export const PLUS = 43;
export const COMMA = 44;
export const MINUS = 45;
export const DOT = 46;
export const ZERO = 48;

/** What readers of bytes give instead of a place where the bytes are not as they can read them. */
export const IRREGULAR = -1;

/** Powers of ten that are exact doubles. */
export const POWERS_OF_TEN = Float64Array.from({ length: 23 }, (_, i) => Number(`1e${i}`));
