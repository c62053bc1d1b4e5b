-- fit.lives: one row per group of equal fitted lives; mechanism -1 = suspension, -2 = failure of unknown mechanism.
-- Reads fit.coded_lives.
create or replace table fit.lives as
select cell, place, mechanism, entry, low, high, count(*)::double as n
from fit.coded_lives
group by cell, place, mechanism, entry, low, high
order by cell, place, entry, low, high, mechanism
