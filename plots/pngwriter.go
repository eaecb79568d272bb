package plots

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"sync"
)

// pngSignature begins every PNG file (ISO/IEC 15948, as are the chunks below).
const pngSignature = "\x89PNG\r\n\x1a\n"

var deflaters = sync.Pool{New: func() any {
	w, _ := zlib.NewWriterLevel(nil, zlib.BestSpeed) // the level is valid
	return w
}}

// encodePNG writes an opaque image in eight bits a colour with its resolution. Rows are stored as the difference to the
// row above, which is nearly always nothing in a drawing; trying all five filters of the format, as a general encoder
// does, takes longer than the compression.
func encodePNG(img *image.RGBA, dpi int) ([]byte, error) {
	var data bytes.Buffer
	z := deflaters.Get().(*zlib.Writer)
	defer deflaters.Put(z)
	z.Reset(&data)
	w, h := img.Rect.Dx(), img.Rect.Dy()
	above, row, out := make([]byte, 3*w), make([]byte, 3*w), make([]byte, 1+3*w)
	out[0] = 2 // filter type Up
	for y := range h {
		opaque(row, img.Pix[y*img.Stride:][:4*w])
		for i, v := range row {
			out[i+1] = v - above[i]
		}
		if _, err := z.Write(out); err != nil {
			return nil, err
		}
		above, row = row, above
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	var file bytes.Buffer
	file.WriteString(pngSignature)
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	chunk(&file, "IHDR", append(head, 8, 2, 0, 0, 0)) // eight bits, RGB, the only compression and filter method, no interlace
	perMetre := uint32(float64(dpi)/0.0254 + 0.5)
	chunk(&file, "pHYs", append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, perMetre), perMetre), 1))
	chunk(&file, "tEXt", []byte("Software\x00phasetally"))
	chunk(&file, "IDAT", data.Bytes())
	chunk(&file, "IEND", nil)
	return file.Bytes(), nil
}

// opaque drops the alpha of a row.
func opaque(rgb, rgba []byte) {
	for i, j := 0, 0; j+3 < len(rgba); i, j = i+3, j+4 {
		rgb[i], rgb[i+1], rgb[i+2] = rgba[j], rgba[j+1], rgba[j+2]
	}
}

// chunk appends one chunk: length, kind, data, and their checksum.
func chunk(b *bytes.Buffer, kind string, data []byte) {
	_ = binary.Write(b, binary.BigEndian, uint32(len(data))) // a buffer does not fail
	from := b.Len()
	b.WriteString(kind)
	b.Write(data)
	_ = binary.Write(b, binary.BigEndian, crc32.ChecksumIEEE(b.Bytes()[from:]))
}
