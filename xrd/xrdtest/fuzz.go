package xrdtest

import (
	"math"

	"phasetally/xrd"
)

// ScanOfBytes makes a scan of any bytes, three a point: step, gap or scale; intensity. It is for fuzzing what reads scans, which must take
// gaps, uneven steps, single points, zeros, negative and huge intensities. Two bytes at the front give the first angle and the usual step.
// At most 200 points are made; the error is that of xrd.NewScan.
func ScanOfBytes(in []byte) (xrd.Scan, error) {
	if len(in) < 2 {
		return xrd.NewScan(nil, nil, nil, xrd.ScanInfo{})
	}
	angle, usual := float64(in[0])/2, math.Exp2(float64(in[1])/16-12) // 0.0002° to 15°
	scale := 1.0
	var x, y []float64
	for in = in[2:]; len(in) >= 3 && len(x) < 200; in = in[3:] {
		step := usual
		switch k := in[0]; {
		case k >= 250:
			step = usual * math.Exp2(float64(k-248)) // a gap
		case k >= 200:
			step = usual * (1 + float64(k-225)/60) // uneven
		case k >= 190:
			scale = math.Pow(10, float64(k)-194) // from here on
		}
		if angle += step; angle > 180 {
			break
		}
		x, y = append(x, angle), append(y, scale*float64(int(int8(in[1]))*256+int(in[2]))/8)
	}
	return xrd.NewScan(x, y, nil, xrd.ScanInfo{})
}

// FuzzScans are bytes of which ScanOfBytes makes something like a scan: a background with two lines, one with a gap, and one of counts in
// uneven steps with a spike.
func FuzzScans() [][]byte {
	var plain, gap, uneven []byte
	for i := range 160 {
		v := 800 + 6000*math.Exp(-math.Pow(float64(i-40)/3, 2)) + 3000*math.Exp(-math.Pow(float64(i-110)/4, 2)) + 40*math.Sin(float64(i*i))
		n := int(v)
		plain = append(plain, 100, byte(n>>8), byte(n))
		k := byte(100)
		if i == 75 {
			k = 255
		}
		gap = append(gap, k, byte(n>>8), byte(n))
		if i == 50 {
			n = 30000
		}
		uneven = append(uneven, byte(200+i%50), byte(n>>8), byte(n)&^7)
	}
	head := []byte{60, 108}
	return [][]byte{append(head[:2:2], plain...), append(head[:2:2], gap...), append(head[:2:2], uneven...)}
}
