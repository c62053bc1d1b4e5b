-- results.formulas: the formulas behind the figures, each with its source, by the method note it belongs to.
-- Reads seeds.formulas.
create or replace table results.formulas as
select key, position::integer as position, formula, meaning, source
from seeds.formulas
order by key, position
