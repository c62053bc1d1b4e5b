-- lives.unlisted_parts: one row per part number of installed hoses that is not in the log of parts,
-- with its first stay. Reads lives.stays, clean.parts.
create or replace view lives.unlisted_parts as
select
    'part not in register' as finding, null::varchar as service_point, null::varchar as hose_id,
    min(s.installation_load_id) as load_id, min_by(s.installation_row, s.stay_id) as source_row,
    min(s.installed_on) as happened_on,
    'Part ' || s.part_number || ' of ' || count(*) || ' installations is not in the log of parts.'
        as detail
from lives.stays as s
where s.part_number is not null and s.construction is null
    and s.part_number not in (select part_number from clean.parts)
group by s.part_number
