;; Reads rows of plain decimal numbers from text into columns of doubles, sixteen bytes at a time.
;;
;; Each column remembers how its last cell was laid out. A cell laid out the same is taken without looking for its parts;
;; for any other the layout is learned anew. The memory, as `plain-rows.ts` lays it out:
;;   0      powers of ten, 23 doubles
;;   256    one entry of 80 bytes a column, below
;;   text   with a line end at $end - 1 and 16 bytes of anything behind it
;;
;; An entry:
;;   0   where the column's doubles go, 0 for a column to skip
;;   4   power of ten that divides its numbers besides their decimals
;;   8   layout: one bit a byte, set where it is no digit, up to the byte that ends the cell
;;   12  which of those bits count
;;   16  bytes before the one that ends the cell
;;   20  decimals
;;   24  the double that divides the digits, negative behind a minus sign
;;   32  the bytes that are no digits, and zeros
;;   48  255 where those stand
;;   64  which byte goes to which of 16 digits
;;
;; A number is its digits as one integer, divided by a power of ten. At most 15 digits and 10^22: both are exact doubles,
;; so the quotient is the double nearest to the written decimal.
;; Source: W. D. Clinger, How to read floating point numbers accurately, PLDI 1990 (the fast case; from memory).
(module
  (memory (export "memory") 16)
  (global $delimiter (export "delimiter") (mut i32) (i32.const 0))
  (global $decimal (export "decimal") (mut i32) (i32.const 0))
  (global $newline (export "newline") (mut i32) (i32.const 0))
  ;; Where the first row not read begins, and most decimals met in the time column.
  (global $stopped (export "stopped") (mut i32) (i32.const 0))
  (global $timeDecimals (export "timeDecimals") (mut i32) (i32.const 0))

  ;; Learns the layout of the cell at $start; 0 where it is no plain number or does not end as it should.
  (func $learn (param $entry i32) (param $start i32) (param $last i32) (result i32)
    (local $at i32) (local $byte i32) (local $digitCount i32) (local $pointed i32) (local $decimals i32)
    (local $layout i32) (local $divisor f64)
    (v128.store offset=32 (local.get $entry) (v128.const i64x2 0 0))
    (v128.store offset=48 (local.get $entry) (v128.const i64x2 0 0))
    (v128.store offset=64 (local.get $entry) (i8x16.splat (i32.const 128)))
    ;; Nothing fits this until the layout is known.
    (i32.store offset=8 (local.get $entry) (i32.const -1))
    (i32.store offset=12 (local.get $entry) (i32.const 0))
    (block $end
      (loop $bytes
        (local.set $byte (i32.load8_u (i32.add (local.get $start) (local.get $at))))
        (if (i32.lt_u (i32.sub (local.get $byte) (i32.const 48)) (i32.const 10))
          (then
            (local.set $digitCount (i32.add (local.get $digitCount) (i32.const 1)))
            (local.set $decimals (i32.add (local.get $decimals) (local.get $pointed))))
          (else
            (call $mark (local.get $entry) (local.get $at) (local.get $byte))
            (local.set $layout (i32.or (local.get $layout) (i32.shl (i32.const 1) (local.get $at))))
            (if (i32.eq (local.get $byte) (global.get $decimal))
              (then
                (if (local.get $pointed) (then (return (i32.const 0))))
                (local.set $pointed (i32.const 1)))
              (else
                (br_if $end
                  (i32.or
                    (local.get $at)
                    (i32.and (i32.ne (local.get $byte) (i32.const 45)) (i32.ne (local.get $byte) (i32.const 43)))))))))
        (local.set $at (i32.add (local.get $at) (i32.const 1)))
        (br_if $bytes (i32.lt_u (local.get $at) (i32.const 16))))
      (return (i32.const 0)))
    (if (i32.eqz (local.get $digitCount)) (then (return (i32.const 0))))
    (if (i32.ne (local.get $byte) (global.get $delimiter))
      (then
        (if (i32.eqz (local.get $last)) (then (return (i32.const 0))))
        (if (i32.and (i32.ne (local.get $byte) (global.get $newline)) (i32.ne (local.get $byte) (i32.const 13)))
          (then (return (i32.const 0))))))
    (i32.store offset=16 (local.get $entry) (local.get $at))
    (i32.store offset=20 (local.get $entry) (local.get $decimals))
    (i32.store offset=12 (local.get $entry) (i32.sub (i32.shl (i32.const 2) (local.get $at)) (i32.const 1)))
    (i32.store offset=8 (local.get $entry) (local.get $layout))
    (local.set $divisor
      (f64.load
        (i32.shl (i32.add (local.get $decimals) (i32.load offset=4 (local.get $entry))) (i32.const 3))))
    (f64.store offset=24 (local.get $entry)
      (select
        (f64.neg (local.get $divisor))
        (local.get $divisor)
        (i32.eq (i32.load8_u (local.get $start)) (i32.const 45))))
    ;; The digits go to the right end; places before the first stay zero.
    (local.set $digitCount (i32.const 15))
    (loop $digits
      (local.set $at (i32.sub (local.get $at) (i32.const 1)))
      (if (i32.eqz (i32.and (i32.shr_u (local.get $layout) (local.get $at)) (i32.const 1)))
        (then
          (i32.store8 offset=64 (i32.add (local.get $entry) (local.get $digitCount)) (local.get $at))
          (local.set $digitCount (i32.sub (local.get $digitCount) (i32.const 1)))))
      (br_if $digits (local.get $at)))
    (i32.const 1))

  ;; Remembers a byte that is no digit.
  (func $mark (param $entry i32) (param $at i32) (param $byte i32)
    (i32.store8 offset=32 (i32.add (local.get $entry) (local.get $at)) (local.get $byte))
    (i32.store8 offset=48 (i32.add (local.get $entry) (local.get $at)) (i32.const 255)))

  ;; Reads up to $maxRows rows; returns how many, and stops before the first row that holds anything else.
  (func (export "read")
    (param $start i32) (param $end i32) (param $entriesEnd i32) (param $timeEntry i32) (param $maxRows i32)
    (result i32)
    (local $row i32) (local $rowStart i32) (local $p i32) (local $entry i32) (local $target i32) (local $learned i32)
    (local $mask i32) (local $byte i32) (local $text v128) (local $digits v128) (local $eights i64)
    ;; Constants: written in the loop they would be made anew for every cell.
    (local $zero v128) (local $above v128) (local $low v128) (local $by10 v128) (local $by100 v128)
    (local $by10000 v128)
    (local.set $zero (i8x16.splat (i32.const 48)))
    (local.set $above (i8x16.splat (i32.const 118)))
    (local.set $low (i16x8.splat (i32.const 255)))
    (local.set $by10 (i16x8.splat (i32.const 10)))
    (local.set $by100 (v128.const i16x8 100 1 100 1 100 1 100 1))
    (local.set $by10000 (v128.const i16x8 10000 1 10000 1 10000 1 10000 1))
    (local.set $rowStart (local.get $start))
    (block $stop
      (loop $rows
        (br_if $stop (i32.ge_u (local.get $rowStart) (local.get $end)))
        (br_if $stop (i32.ge_u (local.get $row) (local.get $maxRows)))
        (local.set $p (local.get $rowStart))
        (local.set $entry (i32.const 256))
        ;; Where the first column is skipped, a sign such as # may begin a comment.
        (if (i32.eqz (i32.load (local.get $entry)))
          (then
            (local.set $byte (i32.load8_u (local.get $p)))
            (br_if $stop (i32.and (i32.lt_u (local.get $byte) (i32.const 48)) (i32.ne (local.get $byte) (i32.const 45))))))
        (loop $cells
          (local.set $text (v128.load (local.get $p)))
          (local.set $target (i32.load (local.get $entry)))
          (if (i32.eqz (local.get $target))
            (then
              ;; To the delimiter; quotes and line ends, all below 35, are for the other readers.
              (loop $skip
                (local.set $mask
                  (i8x16.bitmask
                    (v128.or
                      (i8x16.eq (local.get $text) (i8x16.splat (global.get $delimiter)))
                      (i8x16.lt_u (local.get $text) (i8x16.splat (i32.const 35))))))
                (if (i32.eqz (local.get $mask))
                  (then
                    (local.set $p (i32.add (local.get $p) (i32.const 16)))
                    (local.set $text (v128.load (local.get $p)))
                    (br $skip))))
              (local.set $p (i32.add (local.get $p) (i32.ctz (local.get $mask))))
              (br_if $stop (i32.ne (i32.load8_u (local.get $p)) (global.get $delimiter)))
              (local.set $p (i32.add (local.get $p) (i32.const 1)))
              (local.set $entry (i32.add (local.get $entry) (i32.const 80)))
              (br $cells)))
          (local.set $digits (i8x16.sub (local.get $text) (local.get $zero)))
          ;; The high bit of each byte that is no digit.
          (local.set $mask (i8x16.bitmask (i8x16.add_sat_u (local.get $digits) (local.get $above))))
          (if
            (i32.or
              (i32.ne
                (i32.and (local.get $mask) (i32.load offset=12 (local.get $entry)))
                (i32.load offset=8 (local.get $entry)))
              (v128.any_true
                (v128.and
                  (v128.xor (local.get $text) (v128.load offset=32 (local.get $entry)))
                  (v128.load offset=48 (local.get $entry)))))
            (then
              (br_if $stop
                (i32.eqz
                  (call $learn
                    (local.get $entry)
                    (local.get $p)
                    (i32.eq (i32.add (local.get $entry) (i32.const 80)) (local.get $entriesEnd)))))
              (local.set $learned (i32.const 1))))
          ;; Neighbouring digits are joined to numbers of two, four and eight digits.
          (local.set $digits (i8x16.swizzle (local.get $digits) (v128.load offset=64 (local.get $entry))))
          (local.set $digits
            (i16x8.add
              (i16x8.mul (v128.and (local.get $digits) (local.get $low)) (local.get $by10))
              (i16x8.shr_u (local.get $digits) (i32.const 8))))
          (local.set $digits (i32x4.dot_i16x8_s (local.get $digits) (local.get $by100)))
          (local.set $eights
            (i64x2.extract_lane 0
              (i32x4.dot_i16x8_s
                (i16x8.narrow_i32x4_s (local.get $digits) (local.get $digits))
                (local.get $by10000))))
          (f64.store
            (i32.add (local.get $target) (i32.shl (local.get $row) (i32.const 3)))
            (f64.div
              (f64.convert_i64_s
                (i64.add
                  (i64.mul (i64.and (local.get $eights) (i64.const 0xffffffff)) (i64.const 100000000))
                  (i64.shr_u (local.get $eights) (i64.const 32))))
              (f64.load offset=24 (local.get $entry))))
          (local.set $p (i32.add (local.get $p) (i32.load offset=16 (local.get $entry))))
          (local.set $entry (i32.add (local.get $entry) (i32.const 80)))
          (if (i32.lt_u (local.get $entry) (local.get $entriesEnd))
            (then
              (local.set $p (i32.add (local.get $p) (i32.const 1)))
              (br $cells))))
        ;; To the line end; a quote may hide one.
        (if (i32.ne (i32.load8_u (local.get $p)) (global.get $newline))
          (then
            (loop $rest
              (local.set $text (v128.load (local.get $p)))
              (local.set $mask
                (i8x16.bitmask
                  (v128.or
                    (i8x16.eq (local.get $text) (i8x16.splat (global.get $newline)))
                    (i8x16.eq (local.get $text) (i8x16.splat (i32.const 34))))))
              (if (i32.eqz (local.get $mask))
                (then
                  (local.set $p (i32.add (local.get $p) (i32.const 16)))
                  (br $rest))))
            (local.set $p (i32.add (local.get $p) (i32.ctz (local.get $mask))))
            (br_if $stop (i32.ne (i32.load8_u (local.get $p)) (global.get $newline)))))
        (if (local.get $learned)
          (then
            (local.set $learned (i32.const 0))
            (if (i32.gt_u (i32.load offset=20 (local.get $timeEntry)) (global.get $timeDecimals))
              (then (global.set $timeDecimals (i32.load offset=20 (local.get $timeEntry)))))))
        (local.set $rowStart (i32.add (local.get $p) (i32.const 1)))
        (local.set $row (i32.add (local.get $row) (i32.const 1)))
        (br $rows)))
    (global.set $stopped (local.get $rowStart))
    (local.get $row)))
