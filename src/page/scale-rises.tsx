import { ChoiceField, type FormPart } from "./form-fields.js";

/** Which way round the dial the volts rise, seen from the front. */
export function ScaleRises(part: FormPart) {
  return (
    <ChoiceField
      {...part}
      path={["meter", "scale_rises"]}
      label="Scale rises"
      choices={["clockwise", "anticlockwise"]}
      none="not known"
    />
  );
}

/** The same, beside the still on which it was not found. */
export function AskedWay(part: FormPart) {
  return (
    <fieldset>
      <legend>The scale was found, but not which way its volts rise</legend>
      <ScaleRises {...part} />
      <p class="aside">Say it here, or drag each cross onto its mark.</p>
    </fieldset>
  );
}
