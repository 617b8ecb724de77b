// Chooses the browser's own time zone where none is chosen yet. The page works without this file.

const field = document.querySelector("select[name=time_zone]");
if (field && !field.value) {
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if ([...field.options].some((option) => option.value === own)) field.value = own;
}
