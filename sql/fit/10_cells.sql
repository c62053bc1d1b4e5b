-- fit.cells: one row per application class and construction that a hose ever had, with its code.
-- Reads lives.lives.
create or replace table fit.cells as
with cells as (
    select distinct application_class, construction from lives.lives
)

select row_number() over (order by application_class, construction) - 1 as cell, application_class, construction
from cells
order by cell
