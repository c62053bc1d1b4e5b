-- results.optional_logs: one row per log that is not needed but adds something, with its rows.
-- Reads clean.constructions, clean.parts, clean.inspections, clean.teardowns, clean.usage, clean.stock, clean.trials.
create or replace table results.optional_logs as
select log, n_rows, adds
from (
    select 'constructions' as log, (select count(*) from clean.constructions) as n_rows,
        'stiffness, mass and rating: which constructions may stand against each other in a trial' as adds
    union all
    select 'parts', (select count(*) from clean.parts), 'prices and lead times: cost by the register, stocking levels'
    union all
    select 'inspections', (select count(*) from clean.inspections), 'the last good look before a find: narrower lives'
    union all
    select 'teardowns', (select count(*) from clean.teardowns), 'mechanisms of failures that the replacement log leaves open'
    union all
    select 'usage', (select count(*) from clean.usage), 'lives in run hours and in cycles beside those in days'
    union all
    select 'stock', (select count(*) from clean.stock), 'what to order now'
    union all
    select 'trials', (select count(*) from clean.trials), 'lives of the two arms side by side'
)
order by log
