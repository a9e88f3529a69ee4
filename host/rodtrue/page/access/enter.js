// A QR code's link carries its token behind the "#", which browsers keep to themselves: hand it over by POST.
const token = location.hash.slice(1);
if (token) {
  history.replaceState(null, "", location.pathname);
  const field = document.getElementById("token");
  field.disabled = false;
  field.value = token;
  field.form.submit();
}
