// Reads a column of a partitioned Parquet data set with a SQL engine, which
// shares no code with the writer, and tells what it holds.
//
// node parquet-reader.cjs DIR TABLE SESSION COLUMN, with the engine's package
// (@duckdb/node-api, tried with 1.5) where NODE_PATH points.
const { DuckDBInstance } = require('@duckdb/node-api');

const [dir, table, session, column] = process.argv.slice(2);
const text = (s) => "'" + s.replaceAll("'", "''") + "'";
const name = (s) => '"' + s.replaceAll('"', '""') + '"';
(async () => {
  const engine = await (await DuckDBInstance.create(':memory:')).connect();
  const c = name(column);
  const rows = await engine.runAndReadAll(
    `select count(*)::int as rows, count(${c})::int as measured, min(${c}) as low, max(${c}) as high, fsum(${c}) / count(${c}) as mean
     from read_parquet(${text(`${dir}/${table}/*/*.parquet`)}, hive_partitioning = true, hive_types_autocast = false)
     where session = ${text(session)}`);
  console.log(JSON.stringify(rows.getRowObjectsJson()[0], (_, v) => (typeof v === "string" ? Number(v) : v)));
})();
