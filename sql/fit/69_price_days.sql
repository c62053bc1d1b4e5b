-- fit.price_days: one row per part with a price: the day that its price is of, that of the file it came in (of its loading, where the
-- file bears no date). Reads clean.parts, raw.loads.
create or replace table fit.price_days as
with files as (
    select load_id, max(coalesce(exported_on, loaded_on))::date as price_on from raw.loads group by load_id
)

select p.part_number, max(f.price_on) as price_on
from clean.parts as p
join files as f using (load_id)
where p.unit_price is not null
group by p.part_number
order by p.part_number
