import type { Place } from "./dial-geometry.js";

/** The picture as coded: its size and the clockwise turn that stands it upright. */
export interface CodedPicture {
  readonly width: number;
  readonly height: number;
  readonly rotationDeg: 0 | 90 | 180 | 270;
}

/** A place of the upright picture in the coded one. */
export function codedPlace(picture: CodedPicture, upright: Place): Place {
  const { width, height } = picture;
  switch (picture.rotationDeg) {
    case 0:
      return { x: upright.x, y: upright.y };
    case 90:
      return { x: upright.y, y: height - 1 - upright.x };
    case 180:
      return { x: width - 1 - upright.x, y: height - 1 - upright.y };
    case 270:
      return { x: width - 1 - upright.y, y: upright.x };
  }
}

/** A place of the coded picture in the upright one. */
export function uprightPlace(picture: CodedPicture, coded: Place): Place {
  const { width, height } = picture;
  switch (picture.rotationDeg) {
    case 0:
      return { x: coded.x, y: coded.y };
    case 90:
      return { x: height - 1 - coded.y, y: coded.x };
    case 180:
      return { x: width - 1 - coded.x, y: height - 1 - coded.y };
    case 270:
      return { x: coded.y, y: width - 1 - coded.x };
  }
}

/** Width and height of the upright picture. */
export function uprightSize(picture: CodedPicture): { width: number; height: number } {
  const turned = picture.rotationDeg === 90 || picture.rotationDeg === 270;
  return turned ? { width: picture.height, height: picture.width } : { width: picture.width, height: picture.height };
}
