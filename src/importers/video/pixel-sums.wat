;; What a frame of film costs most: means of its pixels, smooth samples of them, and the sums of its registration.
;;
;; `pixel-sums.ts` gives the memory and says what is where:
;;   0      the numbers of one step of a registration, doubles, in the order of `$sum`'s locals
;;   256    sums of products of each column with each, 15 x 15 doubles, then the sums of weights and of weighted errors
;;   2080   a block of 128 sampled values, NaN where there is none
;;   2592   the block's 15 columns of 128 floats
;; A plane's rows lie `line` bytes apart. Rows and arrays may be read up to 15 bytes past what they hold.
(module
  (import "pixels" "memory" (memory 1))

  ;; Weights of the cubic B-spline for four neighbours, 6 times, at a fraction between the second and the third.
  (func $spline (param $fraction f64) (result v128)
    (local $t v128)
    (local.set $t (f32x4.splat (f32.demote_f64 (local.get $fraction))))
    (f32x4.add (v128.const f32x4 1 4 1 0)
      (f32x4.mul (local.get $t)
        (f32x4.add (v128.const f32x4 -3 0 3 0)
          (f32x4.mul (local.get $t)
            (f32x4.add (v128.const f32x4 3 -6 3 0)
              (f32x4.mul (local.get $t) (v128.const f32x4 -1 3 -3 1))))))))

  ;; Four bytes as floats.
  (func $bytes (param $at i32) (result v128)
    (f32x4.convert_i32x4_u
      (i32x4.extend_low_i16x8_u (i16x8.extend_low_i8x16_u (v128.load32_zero (local.get $at))))))

  ;; Four rows of four neighbours by the weights of both axes.
  (func $weighted
    (param $first v128) (param $second v128) (param $third v128) (param $fourth v128)
    (param $across v128) (param $down v128) (result f32)
    (local $sum v128)
    (local.set $sum
      (f32x4.mul (local.get $across)
        (f32x4.add
          (f32x4.add
            (f32x4.mul (local.get $first) (f32x4.splat (f32x4.extract_lane 0 (local.get $down))))
            (f32x4.mul (local.get $second) (f32x4.splat (f32x4.extract_lane 1 (local.get $down)))))
          (f32x4.add
            (f32x4.mul (local.get $third) (f32x4.splat (f32x4.extract_lane 2 (local.get $down))))
            (f32x4.mul (local.get $fourth) (f32x4.splat (f32x4.extract_lane 3 (local.get $down))))))))
    (f32.div
      (f32.add
        (f32.add (f32x4.extract_lane 0 (local.get $sum)) (f32x4.extract_lane 1 (local.get $sum)))
        (f32.add (f32x4.extract_lane 2 (local.get $sum)) (f32x4.extract_lane 3 (local.get $sum))))
      (f32.const 36)))

  ;; `sampleSmooth` of a plane of floats; NaN outside 1 to $right and 1 to $bottom.
  (func $smooth
    (param $plane i32) (param $line i32) (param $right f64) (param $bottom f64) (param $x f64) (param $y f64)
    (result f32)
    (local $column f64) (local $row f64) (local $at i32)
    (if (i32.eqz
          (i32.and
            (i32.and (f64.ge (local.get $x) (f64.const 1)) (f64.ge (local.get $y) (f64.const 1)))
            (i32.and (f64.lt (local.get $x) (local.get $right)) (f64.lt (local.get $y) (local.get $bottom)))))
      (then (return (f32.const nan))))
    (local.set $column (f64.floor (local.get $x)))
    (local.set $row (f64.floor (local.get $y)))
    (local.set $at
      (i32.add
        (local.get $plane)
        (i32.add
          (i32.mul (i32.sub (i32.trunc_f64_s (local.get $row)) (i32.const 1)) (local.get $line))
          (i32.shl (i32.sub (i32.trunc_f64_s (local.get $column)) (i32.const 1)) (i32.const 2)))))
    (call $weighted
      (v128.load (local.get $at))
      (v128.load (i32.add (local.get $at) (local.get $line)))
      (v128.load (i32.add (local.get $at) (i32.shl (local.get $line) (i32.const 1))))
      (v128.load (i32.add (local.get $at) (i32.mul (local.get $line) (i32.const 3))))
      (call $spline (f64.sub (local.get $x) (local.get $column)))
      (call $spline (f64.sub (local.get $y) (local.get $row)))))

  ;; The same of a plane of bytes.
  (func $smoothBytes
    (param $plane i32) (param $line i32) (param $right f64) (param $bottom f64) (param $x f64) (param $y f64)
    (result f32)
    (local $column f64) (local $row f64) (local $at i32)
    (if (i32.eqz
          (i32.and
            (i32.and (f64.ge (local.get $x) (f64.const 1)) (f64.ge (local.get $y) (f64.const 1)))
            (i32.and (f64.lt (local.get $x) (local.get $right)) (f64.lt (local.get $y) (local.get $bottom)))))
      (then (return (f32.const nan))))
    (local.set $column (f64.floor (local.get $x)))
    (local.set $row (f64.floor (local.get $y)))
    (local.set $at
      (i32.add
        (local.get $plane)
        (i32.add
          (i32.mul (i32.sub (i32.trunc_f64_s (local.get $row)) (i32.const 1)) (local.get $line))
          (i32.sub (i32.trunc_f64_s (local.get $column)) (i32.const 1)))))
    (call $weighted
      (call $bytes (local.get $at))
      (call $bytes (i32.add (local.get $at) (local.get $line)))
      (call $bytes (i32.add (local.get $at) (i32.shl (local.get $line) (i32.const 1))))
      (call $bytes (i32.add (local.get $at) (i32.mul (local.get $line) (i32.const 3))))
      (call $spline (f64.sub (local.get $x) (local.get $column)))
      (call $spline (f64.sub (local.get $y) (local.get $row)))))

  ;; Sums of 2 x 2 pixels of eight pairs of columns: words of 16 bits.
  (func $pairs (param $upper i32) (param $line i32) (result v128)
    (i16x8.add
      (i16x8.extadd_pairwise_i8x16_u (v128.load (local.get $upper)))
      (i16x8.extadd_pairwise_i8x16_u (v128.load (i32.add (local.get $upper) (local.get $line))))))

  ;; Eight words as floats, times a quarter.
  (func $storeQuarters (param $to i32) (param $sums v128)
    (v128.store (local.get $to)
      (f32x4.mul (f32x4.splat (f32.const 0.25))
        (f32x4.convert_i32x4_u (i32x4.extend_low_i16x8_u (local.get $sums)))))
    (v128.store offset=16 (local.get $to)
      (f32x4.mul (f32x4.splat (f32.const 0.25))
        (f32x4.convert_i32x4_u (i32x4.extend_high_i16x8_u (local.get $sums))))))

  ;; Means of 2 x 2 and of 4 x 4 pixels. $line, a multiple of 16, is the bytes between rows of all three planes: one for a
  ;; pixel, four for a mean of each half or quarter as many, so that the rows of `half` lie 2 $line apart and those of
  ;; `quarter` $line. $fours is how many rows of four there are.
  (func (export "means") (param $full i32) (param $line i32) (param $fours i32) (param $half i32) (param $quarter i32)
    (local $end i32) (local $upper v128) (local $lower v128)
    (loop $rows
      (local.set $end (i32.add (local.get $full) (local.get $line)))
      (loop $columns
        (local.set $upper (call $pairs (local.get $full) (local.get $line)))
        (local.set $lower
          (call $pairs (i32.add (local.get $full) (i32.shl (local.get $line) (i32.const 1))) (local.get $line)))
        (call $storeQuarters (local.get $half) (local.get $upper))
        (call $storeQuarters (i32.add (local.get $half) (i32.shl (local.get $line) (i32.const 1))) (local.get $lower))
        (v128.store (local.get $quarter)
          (f32x4.mul (f32x4.splat (f32.const 0.0625))
            (f32x4.convert_i32x4_u
              (i32x4.extadd_pairwise_i16x8_u (i16x8.add (local.get $upper) (local.get $lower))))))
        (local.set $full (i32.add (local.get $full) (i32.const 16)))
        (local.set $half (i32.add (local.get $half) (i32.const 32)))
        (local.set $quarter (i32.add (local.get $quarter) (i32.const 16)))
        (br_if $columns (i32.lt_u (local.get $full) (local.get $end))))
      (local.set $full (i32.add (local.get $full) (i32.mul (local.get $line) (i32.const 3))))
      (local.set $half (i32.add (local.get $half) (i32.shl (local.get $line) (i32.const 1))))
      (local.set $fours (i32.sub (local.get $fours) (i32.const 1)))
      (br_if $rows (local.get $fours))))

  ;; Means along a ray from the pivot: for each of $bands bands that of its $rings radii, which stand as doubles at $radii;
  ;; the floats go to $to. A radius lies at origin + radius * scale * (along + radius * bend).
  (func (export "ray")
    (param $plane i32) (param $line i32) (param $right f64) (param $bottom f64)
    (param $isBytes i32) (param $radii i32) (param $bands i32) (param $rings i32) (param $to i32)
    (param $originX f64) (param $originY f64) (param $alongX f64) (param $alongY f64)
    (param $bendX f64) (param $bendY f64) (param $scale f64)
    (local $ring i32) (local $sum f64) (local $radius f64) (local $reach f64) (local $x f64) (local $y f64)
    (loop $eachBand
      (local.set $sum (f64.const 0))
      (local.set $ring (local.get $rings))
      (loop $eachRing
        (local.set $radius (f64.load (local.get $radii)))
        (local.set $reach (f64.mul (local.get $radius) (local.get $scale)))
        (local.set $x
          (f64.add (local.get $originX)
            (f64.mul (local.get $reach)
              (f64.add (local.get $alongX) (f64.mul (local.get $radius) (local.get $bendX))))))
        (local.set $y
          (f64.add (local.get $originY)
            (f64.mul (local.get $reach)
              (f64.add (local.get $alongY) (f64.mul (local.get $radius) (local.get $bendY))))))
        (local.set $sum
          (f64.add (local.get $sum)
            (f64.promote_f32
              (if (result f32) (local.get $isBytes)
                (then
                  (call $smoothBytes (local.get $plane) (local.get $line) (local.get $right) (local.get $bottom)
                    (local.get $x) (local.get $y)))
                (else
                  (call $smooth (local.get $plane) (local.get $line) (local.get $right) (local.get $bottom)
                    (local.get $x) (local.get $y)))))))
        (local.set $radii (i32.add (local.get $radii) (i32.const 8)))
        (local.set $ring (i32.sub (local.get $ring) (i32.const 1)))
        (br_if $eachRing (local.get $ring)))
      (f32.store (local.get $to)
        (f32.demote_f64 (f64.div (local.get $sum) (f64.convert_i32_u (local.get $rings)))))
      (local.set $to (i32.add (local.get $to) (i32.const 4)))
      (local.set $bands (i32.sub (local.get $bands) (i32.const 1)))
      (br_if $eachBand (local.get $bands))))

  ;; Four floats in sum.
  (func $total (param $four v128) (result f64)
    (f64.promote_f32
      (f32.add
        (f32.add (f32x4.extract_lane 0 (local.get $four)) (f32x4.extract_lane 1 (local.get $four)))
        (f32.add (f32x4.extract_lane 2 (local.get $four)) (f32x4.extract_lane 3 (local.get $four))))))

  ;; Adds to a double.
  (func $increase (param $at i32) (param $value f64)
    (f64.store (local.get $at) (f64.add (f64.load (local.get $at)) (local.get $value))))

  ;; Adds the block's products of three columns, from $first on, with three, from $second on, to their sums at $to.
  (func $products (param $first i32) (param $second i32) (param $bytes i32) (param $to i32)
    (local $end i32)
    (local $a0 v128) (local $a1 v128) (local $a2 v128) (local $b0 v128) (local $b1 v128) (local $b2 v128)
    (local $p00 v128) (local $p01 v128) (local $p02 v128)
    (local $p10 v128) (local $p11 v128) (local $p12 v128)
    (local $p20 v128) (local $p21 v128) (local $p22 v128)
    (local.set $end (i32.add (local.get $first) (local.get $bytes)))
    (loop $fours
      (local.set $a0 (v128.load (local.get $first)))
      (local.set $a1 (v128.load offset=512 (local.get $first)))
      (local.set $a2 (v128.load offset=1024 (local.get $first)))
      (local.set $b0 (v128.load (local.get $second)))
      (local.set $b1 (v128.load offset=512 (local.get $second)))
      (local.set $b2 (v128.load offset=1024 (local.get $second)))
      (local.set $p00 (f32x4.add (local.get $p00) (f32x4.mul (local.get $a0) (local.get $b0))))
      (local.set $p01 (f32x4.add (local.get $p01) (f32x4.mul (local.get $a0) (local.get $b1))))
      (local.set $p02 (f32x4.add (local.get $p02) (f32x4.mul (local.get $a0) (local.get $b2))))
      (local.set $p10 (f32x4.add (local.get $p10) (f32x4.mul (local.get $a1) (local.get $b0))))
      (local.set $p11 (f32x4.add (local.get $p11) (f32x4.mul (local.get $a1) (local.get $b1))))
      (local.set $p12 (f32x4.add (local.get $p12) (f32x4.mul (local.get $a1) (local.get $b2))))
      (local.set $p20 (f32x4.add (local.get $p20) (f32x4.mul (local.get $a2) (local.get $b0))))
      (local.set $p21 (f32x4.add (local.get $p21) (f32x4.mul (local.get $a2) (local.get $b1))))
      (local.set $p22 (f32x4.add (local.get $p22) (f32x4.mul (local.get $a2) (local.get $b2))))
      (local.set $first (i32.add (local.get $first) (i32.const 16)))
      (local.set $second (i32.add (local.get $second) (i32.const 16)))
      (br_if $fours (i32.lt_u (local.get $first) (local.get $end))))
    (call $increase (local.get $to) (call $total (local.get $p00)))
    (call $increase (i32.add (local.get $to) (i32.const 8)) (call $total (local.get $p01)))
    (call $increase (i32.add (local.get $to) (i32.const 16)) (call $total (local.get $p02)))
    (call $increase (i32.add (local.get $to) (i32.const 120)) (call $total (local.get $p10)))
    (call $increase (i32.add (local.get $to) (i32.const 128)) (call $total (local.get $p11)))
    (call $increase (i32.add (local.get $to) (i32.const 136)) (call $total (local.get $p12)))
    (call $increase (i32.add (local.get $to) (i32.const 240)) (call $total (local.get $p20)))
    (call $increase (i32.add (local.get $to) (i32.const 248)) (call $total (local.get $p21)))
    (call $increase (i32.add (local.get $to) (i32.const 256)) (call $total (local.get $p22))))

  ;; Sums the equations of one step of a registration over $count points. At $points stand arrays of floats of $array bytes:
  ;; places from the centre across and down, and the reference's values, slopes across and slopes down, each for all $blurs;
  ;; $near and $far are the bytes from the first blur to the two in use. $columnCount is 9 or 15. Products are summed of the
  ;; first three columns with all, of the next three, and so on for $rows columns.
  (func (export "sum")
    (param $plane i32) (param $line i32) (param $right f64) (param $bottom f64)
    (param $points i32) (param $count i32) (param $array i32) (param $blurs i32) (param $near i32) (param $far i32)
    (param $columnCount i32) (param $rows i32)
    (local $originX f64) (local $originY f64) (local $xx f64) (local $xxx f64) (local $xxy f64) (local $xy f64)
    (local $xyy f64) (local $yx f64) (local $yxy f64) (local $yy f64) (local $yyy f64) (local $shrink f64)
    (local $gain v128) (local $offset v128) (local $part v128) (local $perScale v128)
    (local $backXX v128) (local $backXY v128) (local $backYX v128) (local $backYY v128)
    (local $perLength v128) (local $blurGain v128)
    (local $values i32) (local $slopesX i32) (local $slopesY i32) (local $end i32) (local $bytes i32) (local $at i32)
    (local $dx f64) (local $dy f64) (local $to i32) (local $i i32) (local $j i32)
    (local $seen v128) (local $mask v128) (local $reference v128) (local $step v128) (local $error v128)
    (local $weight v128) (local $root v128) (local $slopeX v128) (local $slopeY v128) (local $ownX v128)
    (local $ownY v128) (local $ux v128) (local $uy v128) (local $weights v128) (local $errors v128)
    (local.set $originX (f64.load offset=0 (i32.const 0)))
    (local.set $originY (f64.load offset=8 (i32.const 0)))
    (local.set $xx (f64.load offset=16 (i32.const 0)))
    (local.set $xxx (f64.load offset=24 (i32.const 0)))
    (local.set $xxy (f64.load offset=32 (i32.const 0)))
    (local.set $xy (f64.load offset=40 (i32.const 0)))
    (local.set $xyy (f64.load offset=48 (i32.const 0)))
    (local.set $yx (f64.load offset=56 (i32.const 0)))
    (local.set $yxy (f64.load offset=64 (i32.const 0)))
    (local.set $yy (f64.load offset=72 (i32.const 0)))
    (local.set $yyy (f64.load offset=80 (i32.const 0)))
    (local.set $shrink (f64.load offset=88 (i32.const 0)))
    (local.set $gain (f32x4.splat (f32.demote_f64 (f64.load offset=96 (i32.const 0)))))
    (local.set $offset (f32x4.splat (f32.demote_f64 (f64.load offset=104 (i32.const 0)))))
    (local.set $part (f32x4.splat (f32.demote_f64 (f64.load offset=112 (i32.const 0)))))
    (local.set $perScale (f32x4.splat (f32.demote_f64 (f64.load offset=120 (i32.const 0)))))
    (local.set $backXX (f32x4.splat (f32.demote_f64 (f64.load offset=128 (i32.const 0)))))
    (local.set $backXY (f32x4.splat (f32.demote_f64 (f64.load offset=136 (i32.const 0)))))
    (local.set $backYX (f32x4.splat (f32.demote_f64 (f64.load offset=144 (i32.const 0)))))
    (local.set $backYY (f32x4.splat (f32.demote_f64 (f64.load offset=152 (i32.const 0)))))
    (local.set $perLength (f32x4.splat (f32.demote_f64 (f64.load offset=160 (i32.const 0)))))
    (local.set $blurGain (f32x4.splat (f32.demote_f64 (f64.load offset=168 (i32.const 0)))))
    (local.set $values (i32.add (local.get $points) (i32.shl (local.get $array) (i32.const 1))))
    (local.set $slopesX (i32.add (local.get $values) (i32.mul (local.get $array) (local.get $blurs))))
    (local.set $slopesY (i32.add (local.get $slopesX) (i32.mul (local.get $array) (local.get $blurs))))
    (loop $blocks
      (local.set $bytes
        (select (i32.const 512) (i32.shl (local.get $count) (i32.const 2)) (i32.gt_s (local.get $count) (i32.const 128))))
      ;; Samples.
      (local.set $at (i32.const 0))
      (loop $each
        (local.set $dx (f64.promote_f32 (f32.load (i32.add (local.get $points) (local.get $at)))))
        (local.set $dy
          (f64.promote_f32 (f32.load (i32.add (i32.add (local.get $points) (local.get $array)) (local.get $at)))))
        (f32.store offset=2080 (local.get $at)
          (call $smooth (local.get $plane) (local.get $line) (local.get $right) (local.get $bottom)
            (f64.mul (local.get $shrink)
              (f64.add (local.get $originX)
                (f64.add
                  (f64.mul (local.get $dx)
                    (f64.add (local.get $xx)
                      (f64.add
                        (f64.mul (local.get $xxx) (local.get $dx))
                        (f64.mul (local.get $xxy) (local.get $dy)))))
                  (f64.mul (local.get $dy)
                    (f64.add (local.get $xy) (f64.mul (local.get $xyy) (local.get $dy)))))))
            (f64.mul (local.get $shrink)
              (f64.add (local.get $originY)
                (f64.add
                  (f64.mul (local.get $dx) (f64.add (local.get $yx) (f64.mul (local.get $yxy) (local.get $dy))))
                  (f64.mul (local.get $dy) (f64.add (local.get $yy) (f64.mul (local.get $yyy) (local.get $dy)))))))))
        (local.set $at (i32.add (local.get $at) (i32.const 4)))
        (br_if $each (i32.lt_u (local.get $at) (local.get $bytes))))
      ;; No values for what the last four lack.
      (v128.store offset=2080 (local.get $at) (f32x4.splat (f32.const nan)))
      (local.set $bytes (i32.and (i32.add (local.get $bytes) (i32.const 15)) (i32.const -16)))
      ;; Columns, four points at a time.
      (local.set $weights (v128.const i32x4 0 0 0 0))
      (local.set $errors (v128.const i32x4 0 0 0 0))
      (local.set $at (i32.const 0))
      (loop $fours
        (local.set $seen (v128.load offset=2080 (local.get $at)))
        (local.set $mask (f32x4.eq (local.get $seen) (local.get $seen)))
        (local.set $to (i32.add (local.get $values) (local.get $at)))
        (local.set $reference (v128.load (i32.add (local.get $to) (local.get $near))))
        (local.set $step
          (f32x4.sub (v128.load (i32.add (local.get $to) (local.get $far))) (local.get $reference)))
        (local.set $reference
          (f32x4.add (local.get $reference) (f32x4.mul (local.get $part) (local.get $step))))
        (local.set $error
          (v128.and (local.get $mask)
            (f32x4.sub
              (f32x4.sub (local.get $seen) (f32x4.mul (local.get $gain) (local.get $reference)))
              (local.get $offset))))
        (local.set $weight (f32x4.mul (local.get $error) (local.get $perScale)))
        (local.set $weight
          (v128.and (local.get $mask)
            (f32x4.div (f32x4.splat (f32.const 1))
              (f32x4.add (f32x4.splat (f32.const 1)) (f32x4.mul (local.get $weight) (local.get $weight))))))
        (local.set $weights (f32x4.add (local.get $weights) (local.get $weight)))
        (local.set $errors
          (f32x4.add (local.get $errors) (f32x4.mul (local.get $weight) (f32x4.abs (local.get $error)))))
        (local.set $root (f32x4.sqrt (local.get $weight)))
        ;; The reference's slope, carried into the frame by the inverse of the warp's affine part.
        (local.set $to (i32.add (local.get $slopesX) (local.get $at)))
        (local.set $ownX (v128.load (i32.add (local.get $to) (local.get $near))))
        (local.set $ownX
          (f32x4.add (local.get $ownX)
            (f32x4.mul (local.get $part)
              (f32x4.sub (v128.load (i32.add (local.get $to) (local.get $far))) (local.get $ownX)))))
        (local.set $to (i32.add (local.get $slopesY) (local.get $at)))
        (local.set $ownY (v128.load (i32.add (local.get $to) (local.get $near))))
        (local.set $ownY
          (f32x4.add (local.get $ownY)
            (f32x4.mul (local.get $part)
              (f32x4.sub (v128.load (i32.add (local.get $to) (local.get $far))) (local.get $ownY)))))
        (local.set $slopeX
          (f32x4.mul (local.get $root)
            (f32x4.add
              (f32x4.mul (local.get $backXX) (local.get $ownX))
              (f32x4.mul (local.get $backXY) (local.get $ownY)))))
        (local.set $slopeY
          (f32x4.mul (local.get $root)
            (f32x4.add
              (f32x4.mul (local.get $backYX) (local.get $ownX))
              (f32x4.mul (local.get $backYY) (local.get $ownY)))))
        (local.set $to (i32.add (local.get $points) (local.get $at)))
        (local.set $ux (f32x4.mul (local.get $perLength) (v128.load (local.get $to))))
        (local.set $uy
          (f32x4.mul (local.get $perLength) (v128.load (i32.add (local.get $to) (local.get $array)))))
        (local.set $root (f32x4.neg (local.get $root)))
        (v128.store offset=2592 (local.get $at) (f32x4.mul (local.get $root) (local.get $error)))
        (v128.store offset=3104 (local.get $at)
          (f32x4.mul (local.get $root)
            (f32x4.mul (f32x4.splat (f32.const 0.015625))
              (f32x4.sub (local.get $reference) (f32x4.splat (f32.const 128))))))
        (v128.store offset=3616 (local.get $at) (local.get $root))
        (v128.store offset=4128 (local.get $at) (local.get $slopeX))
        (v128.store offset=4640 (local.get $at) (local.get $slopeY))
        (v128.store offset=5152 (local.get $at) (f32x4.mul (local.get $slopeX) (local.get $ux)))
        (v128.store offset=5664 (local.get $at) (f32x4.mul (local.get $slopeX) (local.get $uy)))
        (v128.store offset=6176 (local.get $at) (f32x4.mul (local.get $slopeY) (local.get $ux)))
        (v128.store offset=6688 (local.get $at) (f32x4.mul (local.get $slopeY) (local.get $uy)))
        (if (i32.eq (local.get $columnCount) (i32.const 15))
          (then
            (local.set $slopeX (f32x4.mul (local.get $slopeX) (local.get $ux)))
            (v128.store offset=7200 (local.get $at) (f32x4.mul (local.get $slopeX) (local.get $ux)))
            (v128.store offset=7712 (local.get $at) (f32x4.mul (local.get $slopeX) (local.get $uy)))
            (v128.store offset=8224 (local.get $at)
              (f32x4.mul (v128.load offset=5664 (local.get $at)) (local.get $uy)))
            (local.set $slopeY (f32x4.mul (local.get $slopeY) (local.get $uy)))
            (v128.store offset=8736 (local.get $at) (f32x4.mul (local.get $slopeY) (local.get $ux)))
            (v128.store offset=9248 (local.get $at) (f32x4.mul (local.get $slopeY) (local.get $uy)))
            (v128.store offset=9760 (local.get $at)
              (f32x4.mul (local.get $root) (f32x4.mul (local.get $blurGain) (local.get $step))))))
        (local.set $at (i32.add (local.get $at) (i32.const 16)))
        (br_if $fours (i32.lt_u (local.get $at) (local.get $bytes))))
      (call $increase (i32.const 2056) (call $total (local.get $weights)))
      (call $increase (i32.const 2064) (call $total (local.get $errors)))
      ;; Products.
      (local.set $i (i32.const 0))
      (loop $firsts
        (local.set $j (local.get $i))
        (loop $seconds
          (call $products
            (i32.add (i32.const 2592) (i32.mul (local.get $i) (i32.const 512)))
            (i32.add (i32.const 2592) (i32.mul (local.get $j) (i32.const 512)))
            (local.get $bytes)
            (i32.add (i32.const 256)
              (i32.shl (i32.add (i32.mul (local.get $i) (i32.const 15)) (local.get $j)) (i32.const 3))))
          (local.set $j (i32.add (local.get $j) (i32.const 3)))
          (br_if $seconds (i32.lt_u (local.get $j) (local.get $columnCount))))
        (local.set $i (i32.add (local.get $i) (i32.const 3)))
        (br_if $firsts (i32.lt_u (local.get $i) (local.get $rows))))
      (local.set $points (i32.add (local.get $points) (i32.const 512)))
      (local.set $values (i32.add (local.get $values) (i32.const 512)))
      (local.set $slopesX (i32.add (local.get $slopesX) (i32.const 512)))
      (local.set $slopesY (i32.add (local.get $slopesY) (i32.const 512)))
      (local.set $count (i32.sub (local.get $count) (i32.const 128)))
      (br_if $blocks (i32.gt_s (local.get $count) (i32.const 0))))))
