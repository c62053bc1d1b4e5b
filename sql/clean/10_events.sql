-- clean.events: one row per installation (kind 0) or removal (kind 1) that is current, good by
-- itself and not after the data date. A view: all of them are read once, those of irregular places
-- once more. Reads clean.installations_hashed, clean.replacements_hashed, clean.fates.
create or replace view clean.events as
with told as (
    select
        point_no, installed_on as happened_on, 0::tinyint as kind, hose_id,
        null::date as seen_on, cells_hash, row_no
    from clean.installations_hashed
    where reasons is null
    union all
    select point_no, removed_on, 1::tinyint, hose_id, last_seen_good_on, cells_hash, row_no
    from clean.replacements_hashed
    where reasons is null
)

select
    point_no, happened_on, kind, hose_id, case when hose_id is not null then hash(hose_id) end as tag,
    seen_on, cells_hash, row_no
from told
anti join clean.fates using (row_no)
where happened_on <= (select as_of from clean.data_date)
