package resultfile

import (
	"bytes"
	"fmt"
	"math"

	"github.com/parquet-go/parquet-go"

	"phasetally/xrd/result"
)

// SeriesParquet returns the table of SeriesCSV as a Parquet file with typed columns: text as UTF-8 strings, numbers as
// doubles, null for what is unknown; names, order of rows and values are those of series.csv.
func SeriesParquet(s result.Series) ([]byte, error) {
	columns := seriesColumns(s)
	group := parquet.Group{}
	for _, c := range columns {
		group[c.name] = parquet.Optional(parquetNode(c.kind))
	}
	schema := parquet.NewSchema("series", group)
	order := make([]tidyColumn, len(columns)) // a group sorts its columns by name
	for _, c := range columns {
		leaf, ok := schema.Lookup(c.name)
		if !ok {
			return nil, fmt.Errorf("series.parquet: no column %q", c.name)
		}
		order[leaf.ColumnIndex] = c
	}
	var rows []parquet.Row
	for _, r := range seriesRows(s) {
		row := make(parquet.Row, len(order))
		for i, c := range order {
			row[i] = parquetValue(c.get(r), i)
		}
		rows = append(rows, row)
	}
	var b bytes.Buffer
	w := parquet.NewGenericWriter[any](&b, schema, parquet.Compression(&parquet.Snappy), parquet.CreatedBy("phasetally", "", ""))
	if _, err := w.WriteRows(rows); err != nil {
		return nil, fmt.Errorf("series.parquet: %w", err)
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("series.parquet: %w", err)
	}
	return b.Bytes(), nil
}

func parquetNode(kind cell) parquet.Node {
	switch kind.(type) {
	case float64:
		return parquet.Leaf(parquet.DoubleType)
	case int64:
		return parquet.Int(64)
	case bool:
		return parquet.Leaf(parquet.BooleanType)
	}
	return parquet.String()
}

func parquetValue(c cell, index int) parquet.Value {
	if v, ok := c.(float64); ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
		c = nil
	}
	if c == nil {
		return parquet.NullValue().Level(0, 0, index)
	}
	return parquet.ValueOf(c).Level(0, 1, index)
}
