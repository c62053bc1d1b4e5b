-- lives.hoses_in_two_places: one row per stay of a hose that had not come out elsewhere by then.
-- Reads lives.stays, lives.carried.
create or replace table lives.hoses_in_two_places as
with tagged as (
    select *, lag(service_point) over in_order as place_before,
        lag(removed_on) over in_order as removed_before,
        lag(stay_id) over in_order as stay_before
    from lives.stays
    semi join lives.carried using (installation_no)
    where is_tagged
    window in_order as (partition by hose_id order by installed_on, removed_on, stay_id)
)

select
    'hose in two places' as finding, service_point, hose_id, installation_load_id as load_id,
    installation_row as source_row, installed_on as happened_on,
    'It was still at ' || place_before || ' by the logs.' as detail
from tagged
where stay_before is not null and coalesce(removed_before > installed_on, true)
