-- fit.counted_lives: one row per life with the mechanism that it counts under: the one that its teardown shows where nobody
-- concluded any. A view: the lives themselves stay as the logs have them. Reads lives.lives, fit.inferred_mechanisms.
create or replace view fit.counted_lives as
select l.* replace (coalesce(i.mechanism, l.mechanism) as mechanism)
from lives.lives as l
left join fit.inferred_mechanisms as i using (life_id)
