package resultfile

import (
	"fmt"
	"io"
	"math"

	"github.com/parquet-go/parquet-go"

	"phasetally/xrd/result"
)

// rowsAtOnce are handed over together; rowGroup rows, a multiple of it, are packed together, and no more are held.
const (
	rowsAtOnce = 512
	rowGroup   = 32 * rowsAtOnce
)

// WriteSeriesParquet writes the table of WriteSeriesCSV as a Parquet file with typed columns: text as UTF-8 strings, numbers as
// doubles, null for what is unknown; names, order of rows and values are those of series.csv.
func WriteSeriesParquet(out io.Writer, s result.Series) error {
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
			return fmt.Errorf("series.parquet: no column %q", c.name)
		}
		order[leaf.ColumnIndex] = c
	}
	w := parquet.NewGenericWriter[any](out, schema, parquet.Compression(&parquet.Snappy), parquet.CreatedBy("phasetally", "", ""))
	rows := make([]parquet.Row, 0, rowsAtOnce)
	written := 0
	put := func() error {
		if _, err := w.WriteRows(rows); err != nil {
			return fmt.Errorf("series.parquet: %w", err)
		}
		if written += len(rows); written%rowGroup == 0 {
			if err := w.Flush(); err != nil {
				return fmt.Errorf("series.parquet: %w", err)
			}
		}
		rows = rows[:0]
		return nil
	}
	for r := range seriesRows(s) {
		row := make(parquet.Row, len(order))
		for i, c := range order {
			row[i] = parquetValue(c.get(r), i)
		}
		if rows = append(rows, row); len(rows) == rowsAtOnce {
			if err := put(); err != nil {
				return err
			}
		}
	}
	if err := put(); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return fmt.Errorf("series.parquet: %w", err)
	}
	return nil
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
