import { plainLabel } from "../report/label-text.js";

export interface NamedLoad {
  readonly id: string;
  readonly name: string;
}

interface LoadSelectProps {
  readonly label: string;
  readonly loads: readonly NamedLoad[];
  readonly value: string | null;
  readonly onChange: (load: string | null) => void;
}

/** One of the profile's loads, or none; a load that the profile does not name stays as it is. */
export function LoadSelect({ label, loads, value, onChange }: LoadSelectProps) {
  const stranger = value !== null && !loads.some(({ id }) => id === value);
  return (
    <select aria-label={label} value={value ?? ""} onChange={(event) => onChange(event.currentTarget.value || null)}>
      <option value="">not told</option>
      {stranger && <option value={value}>{plainLabel(value)}</option>}
      {loads.map(({ id, name }) => (
        <option key={id} value={id}>
          {name}
        </option>
      ))}
    </select>
  );
}
